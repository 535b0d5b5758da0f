"""Which role may do what at which address. A new route without a row here fails the tests.

Roles by letter, all of one district but the last:
T the teacher whose rows they are, M a mate (another teacher), C the coordinator, O the office of the building,
S a substitute who covers nobody just now, X a stranger: the coordinator of another district.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

EVERYONE = "TMCOSX"


@dataclass(frozen=True, slots=True)
class Row:
    """Letters of those who may, by method; None where the method isn't there (405).

    To the letters in `hidden` the object in the address is not there (404), to those in `unseen` when they read
    (their role changes nothing at all); everyone else is refused (403).
    `at` names the address's parts and the things that they stand for (tests.config.things). `public`: also
    without a session. `body` is what a POST sends, where an empty form would find nothing.
    """

    get: str | None = None
    post: str | None = None
    patch: str | None = None
    delete: str | None = None
    hidden: str = ""
    unseen: str = ""
    at: Mapping[str, str] = field(default_factory=dict)
    public: bool = False
    body: Mapping[str, Any] = field(default_factory=dict)
    query: Mapping[str, Any] = field(default_factory=dict)

    @property
    def methods(self) -> tuple[str, ...]:
        """Those that the address has."""
        return tuple(name for name in ("get", "post", "patch", "delete") if getattr(self, name) is not None)


def _shared_form(thing: str, name: str = "pk") -> Row:
    """A page that changes what the district shares: both teachers and the coordinator."""
    return Row(get="TMC", post="TMC", hidden="X", at={name: thing})


def _own_form(thing: str, name: str = "pk") -> Row:
    """A page that changes what one teacher's caseload or week holds."""
    return Row(get="TC", post="TC", hidden="MX", at={name: thing})


NEW = Row(get="TMCX", post="TMCX")
# The key of the teacher's trip (tests.config.things).
TRIP = "=20260914-home-1-1"

PAGES: dict[str, Row] = {
    "health": Row(get=EVERYONE, public=True),
    "home": Row(get=EVERYONE),
    "sign_in": Row(get=EVERYONE, post=EVERYONE, public=True),
    "sign_out": Row(post=EVERYONE),
    "password_change": Row(get=EVERYONE, post=EVERYONE),
    "people": Row(get="CX"),
    "person_new": Row(get="CX", post="CX"),
    "person_change": Row(get="C", post="C", hidden="X", at={"pk": "teacher"}),
    "person_password": Row(post="C", hidden="X", at={"pk": "teacher"}),
    "person_active": Row(post="C", hidden="X", at={"pk": "teacher"}),
    "substitution_new": Row(get="CX", post="CX"),
    "substitution_change": Row(get="C", post="C", hidden="X", at={"pk": "substitution"}),
    "substitution_delete": Row(get="C", post="C", hidden="X", at={"pk": "substitution"}),
    "district": Row(get="CX"),
    "district_change": Row(get="CX", post="CX"),
    "tile_source": Row(get="CX", post="CX"),
    # Nobody's roads are prepared in this test, so there is no picture of them.
    "road_tile": Row(get="", hidden=EVERYONE, at={"zoom": "=14", "column": "=4800", "row": "=6000"}),
    "day": Row(get=EVERYONE),
    "day_of": Row(get=EVERYONE, at={"date": "=2026-09-14"}),
    "day_start": Row(post="TM", at={"date": "=2026-09-14"}),
    "day_arrive": Row(post="TM", at={"date": "=2026-09-14"}),
    "day_undo": Row(post="TM", at={"date": "=2026-09-14"}),
    "building_list": Row(get=EVERYONE),
    "building_new": NEW,
    "building_detail": Row(get="TMCOS", hidden="X", at={"pk": "north"}),
    "building_change": _shared_form("north"),
    "building_place": _shared_form("north"),
    "drives": Row(get="TMCX"),
    "travel_choices": NEW,
    "drive_log_new": NEW,
    "drive_log_change": _own_form("drive_log"),
    "drive_log_delete": _own_form("drive_log"),
    "drive_factor_new": NEW,
    "drive_factor_change": _shared_form("drive_factor"),
    "drive_factor_delete": _shared_form("drive_factor"),
    "building_delete": _shared_form("north"),
    "space_new": _shared_form("north", "building"),
    "space_change": _shared_form("gym"),
    "space_delete": _shared_form("gym"),
    "own_drive_time_new": _own_form("teacher", "teacher"),
    "own_drive_time_change": _own_form("drive"),
    "own_drive_time_delete": _own_form("drive"),
    "student_list": Row(get="TMCSX"),
    "student_new": NEW,
    "student_without_plan": NEW,
    "student_detail": Row(get="TC", hidden="MSX", at={"pk": "student"}),
    "student_change": _own_form("student"),
    "student_delete": _own_form("student"),
    "plan_new": _own_form("student", "student"),
    "plan_change": _own_form("plan"),
    "plan_delete": _own_form("plan"),
    "service_line_new": _own_form("plan", "plan"),
    "service_line_change": _own_form("line"),
    "service_line_delete": _own_form("line"),
    "service_change": _own_form("line"),
    "service_undo": Row(post="TC", hidden="MX", at={"pk": "line"}),
    "plan_renew": _own_form("plan"),
    "plan_renewal_undo": Row(post="TC", hidden="MX", at={"pk": "plan"}),
    "hold_new": _own_form("student", "student"),
    "hold_change": _own_form("hold"),
    "hold_delete": _own_form("hold"),
    "class_new": _shared_form("north", "building"),
    "class_change": _shared_form("room4"),
    "class_delete": _shared_form("room4"),
    "rotation_change": _shared_form("north", "building"),
    "bell_schedule_new": _shared_form("north", "building"),
    "bell_schedule_change": _shared_form("bells"),
    "bell_schedule_delete": _shared_form("bells"),
    "bell_rule_new": _shared_form("north", "building"),
    "bell_rule_change": _shared_form("bell_rule"),
    "bell_rule_delete": _shared_form("bell_rule"),
    "free_time_new": _shared_form("gym", "space"),
    "free_time_change": _shared_form("free_time"),
    "free_time_delete": _shared_form("free_time"),
    "class_meeting_new": _shared_form("room4", "school_class"),
    "class_meeting_change": _shared_form("class_meeting"),
    "class_meeting_delete": _shared_form("class_meeting"),
    "calendar": Row(get=EVERYONE),
    "school_year_new": NEW,
    "school_year_change": _shared_form("year"),
    "marking_period_new": _shared_form("year", "year"),
    "marking_period_change": _shared_form("marking_period"),
    "marking_period_delete": _shared_form("marking_period"),
    "calendar_entry_new": NEW,
    "calendar_entry_change": _shared_form("entry"),
    "calendar_entry_delete": _shared_form("entry"),
    "word_rule_new": NEW,
    "word_rule_change": _shared_form("word"),
    "word_rule_delete": _shared_form("word"),
    "teacher_rules": Row(get="TMCX"),
    "teacher_rules_of": Row(get="TC", hidden="MX", at={"teacher": "teacher"}),
    "teacher_rules_change": _own_form("teacher", "teacher"),
    "contract_hours": _own_form("teacher", "teacher"),
    "meeting_new": _own_form("teacher", "teacher"),
    "meeting_change": _own_form("meeting"),
    "meeting_delete": _own_form("meeting"),
    "import_home": Row(get="TMCX"),
    "import_upload": Row(get="TMCX", post="TMCX", at={"kind": "=spaces"}),
    "import_template": Row(get="TMCX", at={"kind": "=spaces", "form": "=csv"}),
    "import_export": Row(get="TMCX", at={"kind": "=spaces", "form": "=csv"}),
    "import_preview": Row(get="TC", hidden="MX", at={"pk": "batch"}),
    "import_problems": Row(get="TC", hidden="MX", at={"pk": "batch"}),
    "import_commit": Row(post="TC", hidden="MX", at={"pk": "batch"}),
    "import_cancel": Row(post="TC", hidden="MX", at={"pk": "batch"}),
    "import_answer": Row(post="TC", hidden="MX", at={"pk": "batch"}),
    "import_undo": Row(post="TC", hidden="MX", at={"pk": "batch"}),
    "calendar_import": NEW,
    "holidays_import": NEW,
    "calendar_source_new": NEW,
    "calendar_source_change": _shared_form("calendar_source"),
    "calendar_source_delete": _shared_form("calendar_source"),
    "calendar_source_read": Row(post="TMC", hidden="X", at={"pk": "calendar_source"}),
    "calendar_source_look": Row(post="TMC", hidden="X", at={"pk": "calendar_source"}),
    "calendar_source_save": Row(post="TMC", hidden="X", at={"pk": "calendar_source"}),
    "calendar_source_answer": Row(post="TMC", hidden="X", at={"pk": "calendar_source"}),
    "road_map": Row(get="TMCX"),
    "mileage": Row(get="TMCSX"),
    # Only the teacher says what was driven, and signs for it.
    "trips_confirm": Row(post="T", hidden="MS", body={"month": "=2026-09", "key": TRIP}),
    "trip_new": Row(get="TMS", post="TMS"),
    "trip_correct": Row(get="T", post="T", hidden="MS", at={"key": TRIP}),
    "trip_drop": Row(post="T", hidden="MS", at={"key": TRIP}),
    "trip_reopen": Row(post="T", hidden="MS", at={"key": TRIP}),
    "voucher_submit": Row(get="TMS", post="TMS", at={"month": "=2026-09"}),
    "supplement_start": Row(post="TMS", at={"month": "=2026-09"}),
    "supplement_drop": Row(post="TMS", at={"month": "=2026-09"}),
    "voucher_list": Row(get="TMCSX"),
    "voucher_step": Row(post="C", hidden="MSX", at={"pk": "voucher", "step": "=approve"}),
    "voucher": Row(get="TC", hidden="MSX", at={"pk": "voucher"}),
    "voucher_file": Row(get="TC", hidden="MSX", at={"pk": "voucher", "form": "=csv"}),
    "teacher_home": Row(get="TC", post="TC", hidden="MSX", at={"teacher": "teacher"}),
    "teacher_home_correct": Row(get="TC", post="TC", hidden="MSX", at={"pk": "home"}),
    "teacher_home_delete": Row(get="TC", post="TC", hidden="MSX", at={"pk": "home"}),
    "mileage_rules": Row(get="CX"),
    "mileage_settings_change": Row(get="CX", post="CX"),
    "mileage_settings_correct": Row(get="C", post="C", hidden="X", at={"pk": "mileage_settings"}),
    "mileage_settings_delete": Row(get="C", post="C", hidden="X", at={"pk": "mileage_settings"}),
    "mileage_rate_new": Row(get="CX", post="CX"),
    "mileage_rates_copy": Row(post="CX"),
    "mileage_rate_change": Row(get="C", post="C", hidden="X", at={"pk": "rate"}),
    "mileage_rate_delete": Row(get="C", post="C", hidden="X", at={"pk": "rate"}),
    "week": Row(get=EVERYONE),
    "week_versions": Row(get="TMCX"),
    # A draft: the office and a substitute see published weeks only.
    "week_version": Row(get="TC", hidden="MOSX", at={"week_id": "week"}),
    "week_print": Row(get="TC", hidden="MOSX", at={"week_id": "week"}),
    "week_edit": Row(get="TC", hidden="MX", at={"week_id": "week"}),
    "session_move": Row(post="TC", hidden="MX", at={"week_id": "week"}, body={"uid": "uid", "revision": "=1"}),
    "session_pin": Row(post="TC", hidden="MX", at={"week_id": "week"}, body={"uid": "uid", "revision": "=1"}),
    "session_remove": Row(post="TC", hidden="MX", at={"week_id": "week"}, body={"uid": "uid", "revision": "=1"}),
    "unplaced_place": Row(
        post="TC", hidden="MX", at={"week_id": "week"}, body={"unplaced": "unplaced", "revision": "=1"}
    ),
    "week_undo": Row(post="TC", hidden="MX", at={"week_id": "week"}, body={"revision": "=1"}),
    "week_compare": Row(get="TC", hidden="MX", at={"week_id": "week"}),
    "week_rename": Row(post="TC", hidden="MX", at={"week_id": "week"}),
    "week_question": Row(get="TC", hidden="MX", at={"week_id": "week", "kind": "=favours"}),
    "week_question_ask": Row(post="TC", hidden="MX", at={"week_id": "week", "kind": "=favours"}),
    "week_question_stop": Row(post="TC", hidden="MX", at={"week_id": "week", "kind": "=favours"}),
    "week_point_save": Row(post="TC", hidden="MX", at={"week_id": "week"}, body={"point": "=0"}),
    "week_publish": Row(post="TC", hidden="MX", at={"week_id": "week"}, body={"revision": "=1"}),
    "week_restore": Row(post="TC", hidden="MX", at={"week_id": "week"}),
    "week_discard": Row(post="TC", hidden="MX", at={"week_id": "week"}),
    "log": Row(get="TMCSX"),
    "log_session": Row(get="TC", post="TC", hidden="MSX", query={"uid": "log_uid"}, body={"uid": "log_uid"}),
    "day_mark": Row(get="TMCSX", post="TMCSX"),
    "log_undo": Row(post="T", hidden="MCSX", body={"sending": "sending"}),
    "team_decisions": Row(get="TMCX"),
    "ledger_rules": Row(get="TMCSX", post="CX"),
    "ledger_settings_delete": Row(get="C", post="C", hidden="X", at={"pk": "ledger_settings"}),
    "log_entry": Row(get="TC", hidden="MSX", at={"entry_id": "log_entry"}),
    "log_months": Row(get="TMCX"),
    "log_month_rules": Row(post="CX"),
    "log_month": Row(get="TC", hidden="MX", at={"teacher": "teacher", "month": "=2026-09"}),
    "log_month_sign": Row(post="T", hidden="MX", at={"teacher": "teacher", "month": "=2026-09"}),
    "log_month_close": Row(post="C", hidden="MX", at={"teacher": "teacher", "month": "=2026-09"}),
    "log_month_reopen": Row(post="C", hidden="MX", at={"teacher": "teacher", "month": "=2026-09"}),
    "log_correct": Row(get="TC", post="TC", hidden="MSX", at={"entry_id": "log_entry"}),
    "log_decide": Row(get="TC", post="TC", hidden="MX", at={"entry_id": "log_entry"}),
    "student_ledger": Row(get="TC", hidden="MSX", at={"pk": "student"}),
    "compensatory_new": Row(get="TC", post="TC", hidden="MX", at={"student": "student"}),
    "compensatory_change": Row(get="TC", post="TC", hidden="MX", at={"pk": "compensatory"}),
    "compensatory_delete": Row(get="TC", post="TC", hidden="MX", at={"pk": "compensatory"}),
    "minutes_log": Row(get="TC", post="TC", hidden="MSX", at={"pk": "student"}),
    "plan": Row(get="TMCX", post="TMCX"),
    "attention": Row(get="TMCX"),
    "attention_plan": Row(post="TMC", hidden="X"),
    "make_ups": Row(get="TMCX"),
    "make_ups_plan": Row(post="TMC", hidden="X"),
    "make_up_slots": Row(get="TC", hidden="MX", at={"line_id": "line"}),
    "make_up_book": Row(post="TC", hidden="MX", at={"line_id": "line"}),
    "make_up_cancel": Row(post="TC", hidden="MX", at={"week_id": "week"}, body={"uid": "make_up"}),
    "report_home": Row(get="TMCSX"),
    "workload": Row(get="CX"),
    "report_student": Row(get="TC", post="TC", hidden="MSX", at={"pk": "student"}, body={"form": "=csv"}),
    "report_teacher": Row(get="TC", post="TC", hidden="MX", at={"pk": "teacher"}, body={"form": "=csv"}),
    "report_building": Row(get="TMCS", post="TMCS", hidden="X", at={"pk": "north"}, body={"form": "=csv"}),
    "report_sessions": Row(get="CX", post="CX"),
    "report_district": Row(get="CX", post="CX", body={"form": "=csv"}),
    # The address is the whole secret: whoever has it reads the feed.
    "feed_ics": Row(get=EVERYONE, at={"secret": "secret"}, public=True),
    "feeds": Row(get=EVERYONE),
    "feed_new": Row(get="TMCOX", post="TMCOX", at={"kind": "=building"}),
    "feed": Row(get="TC", hidden="MOSX", at={"pk": "feed"}),
    # A coordinator may stop a feed; what it shows is its owner's.
    "feed_options": Row(get="T", post="T", hidden="MOSX", at={"pk": "feed"}),
    "feed_address_new": Row(post="T", hidden="MOSX", at={"pk": "feed"}),
    "feed_stop": Row(post="TC", hidden="MOSX", at={"pk": "feed"}),
    "feed_file": Row(get="T", hidden="MOSX", at={"pk": "feed"}),
    "feed_month": Row(get="T", hidden="MOSX", at={"pk": "feed"}),
    # A teacher's own calendar is nobody else's business; who has no caseload has none.
    "busy_new": Row(get="TM", post="TM"),
    "busy_read": Row(post="T", hidden="MCOSX", at={"pk": "busy"}),
    "busy_delete": Row(post="T", hidden="MCOSX", at={"pk": "busy"}),
    "plan_run": Row(get="TC", hidden="MX", at={"run_id": "run"}),
    "plan_run_stop": Row(post="TC", hidden="MX", at={"run_id": "run"}),
}


def _shared(thing: str, *, deletes: bool = True) -> Row:
    """One row that the district shares; read by everyone in it."""
    return Row(get="TMCOS", patch="TMC", delete="TMC" if deletes else None, hidden="X", at={"pk": thing})


def _caseload(thing: str) -> Row:
    """One row of a caseload."""
    return Row(get="TC", patch="TC", delete="TC", hidden="MX", unseen="S", at={"pk": thing})


def _own(thing: str, *, deletes: bool = True) -> Row:
    """One row about a teacher's own work."""
    return Row(get="TC", patch="TC", delete="TC" if deletes else None, hidden="MX", at={"pk": thing})


def _edit(*, get: str | None = None, post: str | None = None, **more: Any) -> Row:
    """One action on a week."""
    return Row(get=get, post=post, hidden="MX", at={"pk": "week"}, **more)


SHARED_LIST = Row(get=EVERYONE, post="TMCX")
CASELOAD_LIST = Row(get="TMCSX", post="TMCX")
OWN_LIST = Row(get="TMCX", post="TMCX")

API: dict[str, Row] = {
    "api:schema": Row(get=EVERYONE),
    "api:attention": Row(get="TMC", hidden="X"),
    "api:attention_causes": Row(get="TMC", hidden="X"),
    "api:attention_plan": Row(post="TMC", hidden="X", body={"cause": "=Snow"}),
    "api:forecasts": Row(get="TMC", hidden="X"),
    "api:make_ups": Row(get="TMC", hidden="X"),
    "api:make_up_groups": Row(get="TMC", hidden="X"),
    "api:make_ups_plan": Row(post="TMC", hidden="X"),
    "api:make_up_slots": Row(get="TC", post="TC", hidden="MX", at={"line_id": "line"}),
    "api:make_up_cancel": Row(post="TC", hidden="MX", body={"week": "week", "uid": "make_up"}),
    "api:workload": Row(get="CX"),
    "api:report_student": Row(get="TC", hidden="MSX", at={"pk": "student"}),
    "api:report_teacher": Row(get="TC", hidden="MX", at={"pk": "teacher"}),
    "api:report_building": Row(get="TMCS", hidden="X", at={"pk": "north"}),
    "api:report_sessions": Row(post="CX"),
    "api:report_district": Row(get="CX", post="CX"),
    "api:person-list": Row(get=EVERYONE, post="CX"),
    "api:person-detail": Row(get="TMCOS", patch="C", hidden="X", at={"pk": "teacher"}),
    "api:person-password": Row(post="C", hidden="X", at={"pk": "teacher"}),
    "api:person-deactivate": Row(post="C", hidden="X", at={"pk": "teacher"}),
    "api:person-reactivate": Row(post="C", hidden="X", at={"pk": "teacher"}),
    "api:substitution-list": Row(get="CX", post="CX"),
    "api:substitution-detail": Row(get="C", patch="C", delete="C", hidden="X", at={"pk": "substitution"}),
    "api:day": Row(get="TMCOS", hidden="X", at={"date": "=2026-09-14"}),
    "api:day_start": Row(post="TM", at={"date": "=2026-09-14"}),
    "api:day_arrive": Row(post="TM", at={"date": "=2026-09-14"}),
    "api:day_undo": Row(post="TM", at={"date": "=2026-09-14"}),
    "api:building-list": SHARED_LIST,
    "api:building-detail": _shared("north"),
    "api:space-list": SHARED_LIST,
    "api:space-detail": _shared("gym"),
    "api:own_drive_time-list": OWN_LIST,
    "api:own_drive_time-detail": _own("drive"),
    "api:building-geocode": Row(post="TMC", hidden="X", at={"pk": "north"}),
    "api:own_password": Row(post=EVERYONE),
    "api:district": Row(get=EVERYONE, patch="CX"),
    "api:drive_times": Row(get="TMCX"),
    "api:drive_log-list": OWN_LIST,
    "api:drive_log-detail": _own("drive_log"),
    "api:drive_log-start": Row(post="TMCX"),
    "api:drive_log-arrive": Row(post="TC", hidden="MX", at={"pk": "drive_log"}),
    "api:drive_factor-list": SHARED_LIST,
    "api:drive_factor-detail": _shared("drive_factor"),
    "api:travel_choices-list": SHARED_LIST,
    "api:travel_choices-detail": _shared("travel_choices", deletes=False),
    "api:mileage_settings-list": Row(get="TMCX", post="CX"),
    "api:mileage_settings-detail": Row(get="TMC", patch="C", delete="C", hidden="X", at={"pk": "mileage_settings"}),
    "api:mileage_settings-effects-new": Row(post="CX"),
    "api:mileage_settings-effects": Row(post="C", hidden="X", at={"pk": "mileage_settings"}),
    "api:mileage_rate-effects-new": Row(post="CX"),
    "api:mileage_rate-effects": Row(post="C", hidden="X", at={"pk": "rate"}),
    "api:teacher_home-effects-new": Row(post="TMCSX"),
    "api:teacher_home-effects": Row(post="TC", hidden="MSX", at={"pk": "home"}),
    "api:mileage_rate-list": Row(get="TMCX", post="CX"),
    "api:mileage_rate-copy": Row(post="CX"),
    "api:mileage_rate-detail": Row(get="TMC", patch="C", delete="C", hidden="X", at={"pk": "rate"}),
    "api:teacher_home-list": Row(get="TMCSX", post="TMCSX"),
    "api:teacher_home-detail": Row(get="TC", patch="TC", delete="TC", hidden="MSX", at={"pk": "home"}),
    "api:mileage_month-detail": Row(get="TMCS", hidden="X", at={"month": "=2026-09"}),
    "api:mileage_month-confirm": Row(post="TMS", at={"month": "=2026-09"}),
    "api:mileage_month-submit": Row(post="TMS", at={"month": "=2026-09"}),
    "api:mileage_month-supplement": Row(post="TMS", delete="TMS", at={"month": "=2026-09"}),
    "api:trip-list": Row(post="TMS"),
    "api:trip-detail": Row(patch="T", delete="T", hidden="MS", at={"key": TRIP}),
    "api:trip-reopen": Row(post="T", hidden="MS", at={"key": TRIP}),
    "api:voucher-list": Row(get="TMCSX"),
    "api:voucher-detail": Row(get="TC", hidden="MSX", at={"pk": "voucher"}),
    "api:voucher-approve": Row(post="C", hidden="MSX", at={"pk": "voucher"}),
    "api:voucher-return": Row(post="C", hidden="MSX", at={"pk": "voucher"}),
    "api:voucher-take-back": Row(post="T", hidden="MSX", at={"pk": "voucher"}),
    "api:voucher-pay": Row(post="C", hidden="MSX", at={"pk": "voucher"}),
    "api:voucher-undo": Row(post="TC", hidden="MSX", at={"pk": "voucher"}),
    "api:voucher-file": Row(get="TC", hidden="MSX", at={"pk": "voucher"}, query={"form": "=csv"}),
    "api:road_map": Row(get="TMC", hidden="X", query={"monday": "=2026-09-14"}),
    "api:move_cost": Row(
        get="TC",
        hidden="MX",
        query={"monday": "=2026-09-14", "teacher": "teacher", "origin": "north", "destination": "south"},
    ),
    "api:student-list": CASELOAD_LIST,
    "api:student-detail": _caseload("student"),
    "api:plan-list": CASELOAD_LIST,
    "api:plan-detail": _caseload("plan"),
    "api:service_line-list": CASELOAD_LIST,
    "api:service_line-detail": _caseload("line"),
    "api:service_line-change": Row(post="TC", hidden="MX", at={"pk": "line"}),
    "api:service_line-change-effects": Row(post="TC", hidden="MX", at={"pk": "line"}),
    "api:service_line-effects": Row(post="TC", hidden="MX", at={"pk": "line"}),
    "api:service_line-undo": Row(post="TC", hidden="MX", at={"pk": "line"}),
    "api:plan-renew": Row(post="TC", hidden="MX", at={"pk": "plan"}),
    "api:plan-renew-effects": Row(post="TC", hidden="MX", at={"pk": "plan"}),
    "api:plan-undo-renewal": Row(post="TC", hidden="MX", at={"pk": "plan"}),
    "api:hold-list": CASELOAD_LIST,
    "api:hold-detail": _caseload("hold"),
    "api:school_class-list": SHARED_LIST,
    "api:school_class-detail": _shared("room4"),
    "api:compensatory_time-list": Row(get="TMCSX", post="TMCX"),
    "api:compensatory_time-detail": Row(
        get="TC", patch="TC", delete="TC", hidden="MX", unseen="S", at={"pk": "compensatory"}
    ),
    "api:log_entry-list": Row(get="TMCSX", post="TMCSX"),
    "api:log_entry-detail": Row(get="TC", hidden="MSX", at={"pk": "log_entry"}),
    "api:log_entry-correct": Row(post="TC", hidden="MSX", at={"pk": "log_entry"}),
    "api:log_entry-decide": Row(post="TC", hidden="MSX", at={"pk": "log_entry"}),
    "api:missed_reason-list": Row(get="TMCSX", post="CX"),
    "api:missed_reason-detail": Row(get="TMCSX", patch="CX", delete="CX", at={"code": "=testing"}),
    "api:ledger_settings": Row(get="TMCSX", patch="CX"),
    "api:log_month_rules": Row(get="TMCX", patch="CX"),
    "api:log_month": Row(get="TC", hidden="MX", at={"teacher": "teacher", "month": "=2026-09"}),
    "api:log_month_sign": Row(post="T", hidden="MX", at={"teacher": "teacher", "month": "=2026-09"}),
    "api:log_month_close": Row(post="C", hidden="MX", at={"teacher": "teacher", "month": "=2026-09"}),
    "api:log_month_reopen": Row(post="C", hidden="MX", at={"teacher": "teacher", "month": "=2026-09"}),
    "api:ledger_rule-list": Row(get="TMCSX", post="CX"),
    "api:ledger_rule-detail": Row(get="TMCS", patch="C", delete="C", hidden="X", at={"pk": "ledger_settings"}),
    "api:ledger_rule-effects-new": Row(post="CX"),
    "api:ledger_rule-effects": Row(post="C", hidden="X", at={"pk": "ledger_settings"}),
    "api:sessions_to_log": Row(get="TMCSX"),
    "api:unlogged_sessions": Row(get="TMCSX"),
    "api:session_log": Row(post="TMCSX"),
    "api:day_mark": Row(post="TMCSX"),
    "api:log_undo": Row(post="T", hidden="MCSX", body={"client_id": "sending"}),
    "api:ledger": Row(get="TC", hidden="MSX", at={"pk": "student"}),
    "api:bell_schedule-list": SHARED_LIST,
    "api:bell_schedule-detail": _shared("bells"),
    "api:bell_rule-list": SHARED_LIST,
    "api:bell_rule-detail": _shared("bell_rule"),
    "api:rotation-list": SHARED_LIST,
    "api:rotation-detail": _shared("rotation", deletes=False),
    "api:class_meeting-list": SHARED_LIST,
    "api:class_meeting-detail": _shared("class_meeting"),
    "api:space_free_time-list": SHARED_LIST,
    "api:space_free_time-detail": _shared("free_time"),
    "api:school_year-list": SHARED_LIST,
    "api:school_year-detail": _shared("year", deletes=False),
    "api:marking_period-list": SHARED_LIST,
    "api:marking_period-detail": _shared("marking_period"),
    "api:calendar_entry-list": SHARED_LIST,
    "api:calendar_entry-detail": _shared("entry"),
    "api:word_rule-list": SHARED_LIST,
    "api:word_rule-detail": _shared("word"),
    "api:teacher_rules-list": OWN_LIST,
    "api:teacher_rules-detail": _own("rules", deletes=False),
    "api:contract_day-list": OWN_LIST,
    "api:contract_day-detail": _own("contract_day"),
    "api:meeting-list": OWN_LIST,
    "api:meeting-detail": _own("meeting"),
    "api:week-list": Row(get=EVERYONE),
    "api:week-detail": Row(get="TC", hidden="MOSX", at={"pk": "week"}),
    "api:week-compare": _edit(get="TC", query={"other": "week"}),
    "api:week-session-options": _edit(get="TC", query={"uid": "uid"}),
    "api:week-arrivals": _edit(get="TC"),
    "api:week-move": _edit(post="TC"),
    "api:week-pin": _edit(post="TC"),
    "api:week-remove": _edit(post="TC"),
    "api:week-place": _edit(post="TC"),
    "api:week-undo": _edit(post="TC"),
    "api:week-rename": _edit(post="TC"),
    "api:week-favours": _edit(get="TC", post="TC"),
    "api:week-favours-stop": _edit(post="TC"),
    "api:week-curve": _edit(get="TC", post="TC"),
    "api:week-curve-stop": _edit(post="TC"),
    "api:week-save-point": _edit(post="TC"),
    "api:week-publish": _edit(post="TC"),
    "api:week-restore": _edit(post="TC"),
    "api:week-discard": _edit(post="TC"),
    "api:plan_run-list": OWN_LIST,
    "api:plan_run-detail": Row(get="TC", hidden="MX", at={"pk": "run"}),
    "api:plan_run-stop": Row(post="TC", hidden="MX", at={"pk": "run"}),
    "api:feed-list": Row(get=EVERYONE, post=EVERYONE),
    "api:feed-detail": Row(get="TC", patch="T", hidden="MOSX", at={"pk": "feed"}),
    "api:feed-address": Row(post="T", hidden="MOSX", at={"pk": "feed"}),
    "api:feed-stop": Row(post="TC", hidden="MOSX", at={"pk": "feed"}),
    "api:busy_calendar-list": Row(get="TMCX", post="TMCX"),
    "api:busy_calendar-detail": Row(get="T", delete="T", hidden="MCX", at={"pk": "busy"}),
    "api:busy_calendar-read": Row(post="T", hidden="MCX", at={"pk": "busy"}),
    "api:calendar_source-list": OWN_LIST,
    "api:calendar_source-detail": Row(
        get="TMC", patch="TMC", delete="TMC", hidden="X", at={"pk": "calendar_source"}
    ),
    "api:calendar_source-read": Row(post="TMC", hidden="X", at={"pk": "calendar_source"}),
    "api:calendar_source-preview": Row(post="TMC", hidden="X", at={"pk": "calendar_source"}),
    "api:calendar_source-answer": Row(
        post="TMC", hidden="X", at={"pk": "calendar_source"}, body={"title": "=Chess", "kind": "=ordinary"}
    ),
    "api:calendar_source-apply": Row(post="TMC", hidden="X", at={"pk": "calendar_source"}),
    "api:import-list": OWN_LIST,
    "api:import-detail": Row(get="TC", delete="TC", hidden="MX", at={"pk": "batch"}),
    "api:import-calendar": Row(post="TMCX"),
    "api:import-holidays": Row(post="TMCX"),
    "api:import-commit": Row(post="TC", hidden="MX", at={"pk": "batch"}),
    "api:import-answer": Row(
        post="TC",
        hidden="MX",
        at={"pk": "batch"},
        body={"table": "=plans", "value": "=60 min/week 2 times", "reading": "=2 x 30 min/week"},
    ),
    "api:import-undo": Row(post="TC", hidden="MX", at={"pk": "batch"}),
    "api:import_table-list": Row(get="TMCX"),
    "api:import_table-template": Row(get="TMCX", at={"kind": "=spaces"}),
    "api:import_table-rows": Row(get="TMCX", at={"kind": "=spaces"}),
}

TABLE: dict[str, Row] = {**PAGES, **API}
