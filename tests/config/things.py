"""One of everything that an address can name, of the cast's teacher."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.contrib.sessions.models import Session
from django.utils import timezone

from accounts.models import ApiToken, AuditEntry, OpenSession, Person, PersonRole, SecondFactor, Substitution
from accounts.people.services import link_person_make
from caseload.access.models import Access
from caseload.care.models import CareView, Caution, CautionTag, Contact, Support, Try
from caseload.delivery.models import CompensatoryTime, LedgerSettings
from caseload.plans.models import ContinuingService, Enrollment, StudentHold
from caseload.progress.models import GoalRules, PhaseChange
from caseload.retention.models import ErasureHold, ParentsWord, PermanentRecord, RetentionRule
from caseload.teams.models import Team
from jobs.models import Job
from schedule.aides.models import AideHours
from schedule.assigning.kept import question_kept
from schedule.assigning.models import AssigningProposal, AssigningRun, TeacherPost
from schedule.calendar.models import (
    BellRule,
    BusyCalendar,
    CalendarEntry,
    CalendarSource,
    ClassDayTime,
    ClassMeeting,
    ContractDay,
    Happening,
    MarkingPeriod,
    Meeting,
    SchoolYear,
    SpaceFreeTime,
    TeacherRules,
    WordRule,
)
from schedule.class_hour.models import Routine, RoutinePart
from schedule.equipment.models import Activity, Equipment, EquipmentStock, SpaceCautions
from schedule.erasing.services.runs import erasure_list
from schedule.everybody.models import EverybodyPlan
from schedule.feeds.services.feeds import feed_add
from schedule.imports.models import ImportBatch
from schedule.imports.services.work import import_send
from schedule.joint.models import JointService
from schedule.leaving.models import TeacherLeave
from schedule.long_steps.models import LongStep
from schedule.meetings.models import CommonMeeting
from schedule.next_year.models import (
    NextYear,
    NextYearBuilding,
    NextYearClass,
    NextYearDay,
    NextYearPeriod,
    NextYearStudent,
)
from schedule.notices.models import NameRule, Notice, PushDevice
from schedule.packet.models import PacketLink
from schedule.packet.services import packet_link_make
from schedule.planner.assign.propose import price
from schedule.planner.assign.question import Itinerant, Site, Staffing, YearService
from schedule.planner.assign.record import as_record
from schedule.planner.days import Day, Place
from schedule.stations.choices import RotationChoices
from schedule.stations.models import Station, StationEquipment, StationGoal
from schedule.stations.services import rotation_make
from schedule.telling.models import ProgressReport
from schedule.terms.models import TermCurve, TermPlan
from schedule.together.models import TogetherPlan
from schedule.weeks.models import (
    PlannedSession,
    PlanRun,
    SessionAttendee,
    TimetableAttendee,
    TimetableSession,
    TimetableVersion,
    UnplacedSession,
    WeekPlan,
    WeekQuestion,
)
from schedule.weeks.versions.content import content_read, content_to_json
from tests.caseload.progress.builders import make_goal, make_point
from tests.conftest import Cast, date_there, make_cast
from tests.schedule.builders import MONDAY, at, date, make_cycle, make_ground, make_week
from tests.schedule.log_builders import log_line, publish_session
from tests.travel.reviews.builders import make_review
from travel.drives.models import DriveFactor, DriveLog, OwnDriveTime
from travel.mileage.models import AccountCode, MileageRate, MileageSettings, TeacherHome, Trip, Voucher
from travel.roads.models import TravelChoices

PAST = dt.date(2026, 1, 9)


@dataclass(frozen=True, slots=True)
class Things:
    """The cast, and ids by the names that the table uses."""

    cast: Cast
    ids: dict[str, Any]

    def value(self, name: Any) -> Any:
        """The id of a thing, or what stands after an equals sign; what is no text as it is."""
        if not isinstance(name, str):
            return name
        return name.removeprefix("=") if name.startswith("=") else self.ids[name]


def _school_rows(cast: Cast) -> dict[str, Any]:
    bells = cast.north.bell_schedules.get()
    year = SchoolYear.objects.get()
    slot = {"days": "Mon", "start": at("9:00"), "end": at("9:40")}
    day = dt.date(2026, 11, 26)
    # A day that is about its bells: they can't go before it.
    special = {"district": cast.district, "first_date": day, "last_date": day, "kind": "other_bell"}
    CalendarEntry.objects.create(building=cast.north, bell_schedule=bells, **special)
    return {
        "bells": bells,
        "bell_rule": BellRule.objects.create(building=cast.north, day="Wed", schedule=bells),
        "day_rotation": make_cycle(cast.north),
        "free_time": SpaceFreeTime.objects.create(space=cast.gym, **slot),
        "class_day": ClassDayTime.objects.create(school_class=cast.room4, start=at("8:30"), end=at("11:30")),
        "class_meeting": ClassMeeting.objects.create(school_class=cast.room4, **slot),
        "year": year,
        "marking_period": MarkingPeriod.objects.create(
            district=cast.district, school_year=year, name="MP1", first_day=year.first_day, last_day=day
        ),
        "entry": CalendarEntry.objects.create(district=cast.district, first_date=day, last_date=day),
        "happening": Happening.objects.create(
            district=cast.district,
            kind="away",
            teacher=cast.teacher,
            first_date=day,
            last_date=day,
            said_by=cast.teacher,
        ),
        "drive_factor": DriveFactor.objects.create(
            district=cast.district, start=at("7:30"), end=at("8:15"), factor="1.25"
        ),
        "travel_choices": TravelChoices.objects.create(district=cast.district),
        "ledger_settings": LedgerSettings.objects.create(district=cast.district),
        **_equipment(cast),
        **_routine(cast),
        "word": WordRule.objects.create(district=cast.district, words="half day", kind="early_dismissal"),
    }


def _routine(cast: Cast) -> dict[str, Any]:
    routine = Routine.objects.create(district=cast.district, teacher=cast.teacher, name="Room 4 lesson")
    return {"routine": routine, "routine_part": RoutinePart.objects.create(routine=routine)}


def _equipment(cast: Cast) -> dict[str, Any]:
    kind = Equipment.objects.create(district=cast.district, name="Poly spots")
    return {
        "activity": Activity.objects.create(district=cast.district, name="Parachute"),
        "equipment": kind,
        "space_cautions": SpaceCautions.objects.create(space=cast.gym),
        "stock": EquipmentStock.objects.create(equipment=kind, carried_by=cast.teacher, count=12),
        **_stations(cast, kind),
    }


def _stations(cast: Cast, kind: Equipment) -> dict[str, Any]:
    """A station with a picture (the first bytes of one are enough to serve), equipment and a goal."""
    picture = {"picture": b"\x89PNG\r\n\x1a\n", "picture_kind": "image/png"}
    station = Station.objects.create(district=cast.district, name="Balance beam", **picture)
    return {
        "station": station,
        "station_need": StationEquipment.objects.create(station=station, equipment=kind, count=2),
        "station_goal": StationGoal.objects.create(station=station, goal=make_goal(cast.student)),
    }


def _own_rows(cast: Cast) -> dict[str, Any]:
    own = {"district": cast.district, "teacher": cast.teacher}
    job = Job.objects.create(kind="plan_week")
    run = PlanRun.objects.create(requested_by=cast.teacher, first_date=MONDAY, last_date=date(4), job=job, **own)
    return {
        "term": _term(cast),
        "together": _together(cast),
        "everybody": EverybodyPlan.objects.create(district=cast.district, monday=MONDAY, asked_by=cast.coordinator),
        **_assigning(cast),
        "long_step": _long_step(cast),
        "leave": _leave(cast),
        **_next_year(cast),
        "drive": OwnDriveTime.objects.create(origin=cast.north, destination=cast.south, minutes=14, **own),
        "drive_log": DriveLog.objects.create(
            origin=cast.north, destination=cast.south, date=MONDAY, odometer_before="10.0", **own
        ),
        "substitution": Substitution.objects.create(
            teacher=cast.teacher, substitute=cast.substitute, first_date=PAST, last_date=PAST
        ),
        "compensatory": CompensatoryTime.objects.create(
            student=cast.student,
            minutes=120,
            decided_by="Plan team",
            decided_on=date(0),
            until=date(60),
            recorded_by=cast.teacher,
        ),
        "hand_over": AuditEntry.objects.create(
            district=cast.district,
            actor=cast.coordinator,
            action="caseload_hand_over",
            model="accounts.person",
            object_id=str(cast.teacher.pk),
            changes={
                "teacher": [cast.teacher.pk, cast.mate.pk],
                "first_day": [None, MONDAY.isoformat()],
                "assignments": [None, []],
                "services": [None, []],
            },
        ),
        "enrollment": Enrollment.objects.create(student=cast.student, building=cast.north, grade="3"),
        "support": Support.objects.create(student=cast.student, text="Picture cards"),
        "caution": Caution.objects.create(student=cast.student, text="Seizures"),
        "contact": Contact.objects.create(student=cast.student, role="nurse", name="R. Orre", phone="555 0142"),
        "joint_service": JointService.objects.create(
            service=cast.line.service,
            partner=ContinuingService.objects.create(student=cast.student),
            first_day=MONDAY,
        ),
        "aide_hours": AideHours.objects.create(
            contact=Contact.objects.create(student=cast.student, role="aide", name="Ms. Orel", phone="555 0143"),
            first_day=MONDAY,
            times="Mon 8:00 to 11:30",
        ),
        "try": Try.objects.create(student=cast.student, kind="calms", text="A slow ball"),
        "caution_tag": CautionTag.objects.filter(district=cast.district).first(),
        "hold": StudentHold.objects.create(student=cast.student, start=at("13:15"), end=at("13:45")),
        "rules": TeacherRules.objects.get(),
        "contract_day": ContractDay.objects.get(weekday=0),
        "meeting": Meeting.objects.create(title="Team", weekday=4, start=at("14:15"), end=at("15:00"), **own),
        "common_meeting": _common_meeting(cast),
        "run": run,
        "batch": ImportBatch.objects.create(
            district=cast.district, person=cast.teacher, kind="spaces", content={"files": []}
        ),
        # Headers of a district's own: it is asked which column is which.
        "own_batch": import_send(actor=cast.teacher, kind="students", filename="a.csv", content=b"Pupil,Yr\n7,3\n"),
    }


def _common_meeting(cast: Cast) -> CommonMeeting:
    """Called by the teacher, alone in it so far."""
    row = CommonMeeting.objects.create(
        district=cast.district, title="All", weekday=4, start=at("15:10"), end=at("15:20"), called_by=cast.teacher
    )
    row.teachers.set([cast.teacher])
    return row


def _cover(cast: Cast, absence: Happening) -> Substitution:
    """Somebody stands in by a link while the teacher is away."""
    person = link_person_make(actor=cast.teacher, name="Kim Aster")
    days = {"teacher": cast.teacher, "first_date": absence.first_date, "last_date": absence.last_date}
    now = timezone.now()
    PacketLink.objects.create(
        district=cast.district, made_by=cast.teacher, made_at=now, ends_at=now, secret_hash="0" * 64, person=person,
        label="Kim Aster", **days,
    )  # fmt: skip
    cover = Substitution.objects.create(substitute=person, **days)
    absence.covers.add(cover)
    return cover


def _packet(cast: Cast) -> tuple[PacketLink, str]:
    today, teacher = date_there(), cast.teacher
    return packet_link_make(
        actor=teacher,
        teacher=teacher,
        first=today,
        last=today + dt.timedelta(days=1),
        label="sub",
        now=timezone.now(),
    )


def _term(cast: Cast) -> TermPlan:
    """A planned term whose timetable, of one session, is in force."""
    own = {"district": cast.district, "teacher": cast.teacher}
    dates = {"first_date": MONDAY, "last_date": date(18)}
    job = Job.objects.create(kind="plan_term", state=Job.State.DONE)
    run = PlanRun.objects.create(requested_by=cast.teacher, job=job, **dates, **own)
    timetable = TimetableVersion.objects.create(
        first_day=MONDAY,
        last_day=date(18),
        created_by=cast.teacher,
        published_by=cast.teacher,
        published_at=timezone.now(),
        **own,
    )
    session = TimetableSession.objects.create(
        timetable=timetable,
        planner_key=f"line-{cast.line.pk}",
        weekday=1,
        start=at("9:20"),
        end=at("9:50"),
        building=cast.north,
        setting=cast.line.setting,
    )
    TimetableAttendee.objects.create(session=session, service_line=cast.line, student=cast.student)
    term = TermPlan.objects.create(district=cast.district, run=run, worth=60, standing=timetable)
    summary = {"kept": 1, "open": 1, "drive_minutes": 0, "weeks": []}
    TermCurve.objects.create(
        district=cast.district,
        term=term,
        asked_by=cast.teacher,
        job=Job.objects.create(kind="term_curve", state=Job.State.DONE),
        found={"points": [{"worths": [60], "weeks": [], "summary": summary}], "contents": []},
    )
    return term


def _together(cast: Cast) -> TogetherPlan:
    """A plan of two teachers that is made, and has no draft left."""
    plan = TogetherPlan.objects.create(
        district=cast.district,
        monday=MONDAY,
        asked_by=cast.coordinator,
        job=Job.objects.create(kind="plan_together", state=Job.State.DONE),
    )
    plan.teachers.set([cast.teacher, cast.mate])
    return plan


def _long_step(cast: Cast) -> LongStep:
    """A step that is done, about a school year that isn't there anymore."""
    return LongStep.objects.create(
        district=cast.district,
        kind=LongStep.Kind.START_YEAR,
        number=0,
        title="2027-28",
        asked_by=cast.coordinator,
        role=cast.coordinator.role,
        job=Job.objects.create(kind="long_step", state=Job.State.DONE),
    )


def _leave(cast: Cast) -> TeacherLeave:
    """Of the teacher, whose students a colleague has; the entries that it names aren't there."""
    return TeacherLeave.objects.create(
        district=cast.district, teacher=cast.teacher, receiver=cast.mate, first_day=MONDAY, handed=0
    )


def _assigning(cast: Cast) -> dict[str, Any]:
    """A post, and a question that is answered with who serves whom today alone."""
    school = Site(Place(cast.north.code), 480, 900)
    teachers = tuple(
        Itinerant(str(one.pk), str(one), cast.north.code, (Day("2026-09-14", 480, 900),), frozenset([""]))
        for one in (cast.teacher, cast.mate)
    )
    served = YearService(
        "a", cast.north.code, "", 30, 1, students=(str(cast.student.pk),), last=str(cast.teacher.pk)
    )
    asked = Staffing(teachers, (school,), (served,), {cast.north.code: {}})
    run = AssigningRun.objects.create(
        district=cast.district,
        first_day=MONDAY,
        asked_by=cast.coordinator,
        asked={"question": question_kept(asked), "riders": {}, "monday": MONDAY.isoformat(), "notes": []},
        job=Job.objects.create(kind="assign_students", state=Job.State.DONE),
    )
    run.teachers.set([cast.teacher, cast.mate])
    stands = {"record": as_record(price(asked, {"a": str(cast.teacher.pk)})), "riders": {}, "changes": 0}
    return {
        "post": TeacherPost.objects.create(district=cast.district, teacher=cast.teacher, first_day=MONDAY),
        "assigning": run,
        "proposal": AssigningProposal.objects.create(
            run=run, position=0, title="As today", found=stands, now=stands
        ),
    }


def _next_year(cast: Cast) -> dict[str, Any]:
    """A draft of the year after the next, with one of everything that is said in it."""
    first = dt.date(2028, 9, 5)
    draft = NextYear.objects.create(
        district=cast.district, name="2028-29", first_day=first, last_day=dt.date(2029, 6, 15)
    )
    of = {"next_year": draft}
    span = {"first_day": first, "last_day": dt.date(2028, 12, 22)}
    return {
        "next_year": draft,
        "next_period": NextYearPeriod.objects.create(name="1", **of, **span),
        "next_day": NextYearDay.objects.create(first_date=first, last_date=first, **of),
        "next_building": NextYearBuilding.objects.create(building=cast.north, **of),
        "next_class": NextYearClass.objects.create(school_class=cast.room4, **of),
        "next_student": NextYearStudent.objects.create(student=cast.student, **of),
    }


def _goal_rows(cast: Cast) -> dict[str, Any]:
    """A goal with a phase change and one data point, another goal without any, the district's rules."""
    with_data = make_goal(cast.student)
    return {
        "goal": make_goal(cast.student),
        "phase_change": PhaseChange.objects.create(goal=with_data, day=date(21), words="A larger ball"),
        "data_point": make_point(with_data, date(7), 2, cast.teacher),
        "goal_rules": GoalRules.objects.create(district=cast.district),
    }


def _make_up(cast: Cast, week: WeekPlan) -> str:
    """A make-up in the week."""
    session = PlannedSession.objects.create(
        week=week,
        date=date(2),
        start=at("9:20"),
        end=at("9:50"),
        building=cast.north,
        setting=cast.line.setting,
        planner_key=f"make-up-{cast.line.pk}-30",
        makes_up=True,
    )
    SessionAttendee.objects.create(session=session, service_line=cast.line, student=cast.student)
    return str(session.uid)


def _mileage_rows(cast: Cast) -> dict[str, Any]:
    """A trip of September whose key the table knows, a submitted voucher of August, the district's rules."""
    own = {"district": cast.district, "teacher": cast.teacher}
    trip = {"from_week": True, "date": MONDAY, "destination": cast.north, "direct_miles": Decimal("4.0")}
    Trip.objects.create(key="20260914-home-1-1", **trip, **own)
    august = dt.date(2026, 8, 1)
    submitted = {"status": "submitted", "submitted_by": cast.teacher, "submitted_at": timezone.now()}
    return {
        "voucher": Voucher.objects.create(month=august, **submitted, **own),
        "account_code": AccountCode.objects.create(district=cast.district, building=cast.north, code="27-5810"),
        "rate": MileageRate.objects.create(district=cast.district, first_day=dt.date(2026, 1, 1), dollars="0.7"),
        "mileage_settings": MileageSettings.objects.create(district=cast.district),
        "home": TeacherHome.objects.create(commute_miles="6.0", **own),
    }


def _questions(cast: Cast, week: WeekPlan) -> None:
    """One question of each kind, answered; the curve has one point, the week as it is."""
    point = {"moved": 0, "driving": 0, "proved": True, "sentences": [], "tell": []}
    point["content"] = content_to_json(content_read(week))
    for kind, found in (("favours", {}), ("curve", {"points": [point]})):
        WeekQuestion.objects.create(
            district=cast.district,
            week=week,
            kind=kind,
            revision=week.revision,
            asked_by=cast.teacher,
            job=Job.objects.create(kind="find_favours"),
            found=found,
        )


def _retention_rows(cast: Cast) -> dict[str, Any]:
    """A rule, a hold that is over, what parents were told, a list, and one permanent record."""
    district, long_ago = cast.district, dt.date(2020, 1, 1)
    return {
        "retention_rule": RetentionRule.objects.create(
            district=district, kind="jobs", years=90, counts_from="written", first_day=long_ago, decided_by="Board"
        ),
        "erasure_hold": ErasureHold.objects.create(
            student=cast.student, reason="dispute", words="Case 12", first_day=long_ago, last_day=long_ago
        ),
        "parents_word": ParentsWord.objects.create(
            student=cast.student, kind="told", said_on=long_ago, how="Letter"
        ),
        "erasure_list": erasure_list(actor=cast.coordinator),
        "permanent_record": PermanentRecord.objects.create(
            district=district, code="S00", first_name="Una", last_name="Brack", grade="8", made_at=timezone.now()
        ),
    }


def make_things() -> Things:
    """Everything, saved. The week is a draft with one session, one still to be placed."""
    cast = make_cast()
    make_ground(cast)
    week = make_week(cast, [(f"line-{cast.line.pk}", date(0), "8:30")])
    to_log = publish_session(date(7), [cast.line])
    rows = {**_school_rows(cast), **_own_rows(cast), **_mileage_rows(cast), **_goal_rows(cast), "week": week}
    rows["unplaced"] = UnplacedSession.objects.get(week=week)
    _questions(cast, week)
    choices = RotationChoices((rows["station"].pk,), rounds=2)
    rows["rotation"] = rotation_make(actor=cast.teacher, session=to_log.uid, choices=choices)
    names = ("north", "south", "gym", "teacher", "student", "plan", "line", "room4")
    rows.update({name: getattr(cast, name) for name in names})
    feed, address = feed_add(
        actor=cast.teacher, kind="teacher", site="http://testserver", values={"label": "phone"}
    )
    rows["feed"] = feed
    rows["notice"] = Notice.objects.create(
        district=cast.district, teacher=cast.teacher, person=cast.teacher, key="k", channel=Notice.Channel.MAIL,
        subject="Tomorrow", body="8:30", state=Notice.State.FAILED, next_try=timezone.now(), made_at=timezone.now(),
    )  # fmt: skip
    rows["broken_work"] = Job.objects.create(
        kind="send_notice", district_number=cast.district.pk, state=Job.State.FAILED, broke_off=True
    )
    rows["name_rule"] = NameRule.objects.create(district=cast.district, first_date=date(0))
    rows["push_device"] = PushDevice.objects.create(
        district=cast.district, person=cast.teacher, label="phone", endpoint="https://push.example/1",
        made_at=timezone.now(),
    )  # fmt: skip
    rows["second_factor"] = SecondFactor.objects.create(
        person=cast.teacher, kind="passkey", name="phone", secret="none", credential="none"
    )
    session = Session.objects.create(
        session_key="k" * 32, session_data="none", expire_date=timezone.now() + dt.timedelta(days=1)
    )
    rows["api_token"] = ApiToken.objects.create(person=cast.teacher, name="sheet", digest="none", last_day=date(30))
    rows["open_session"] = OpenSession.objects.create(person=cast.teacher, session_key=session.session_key)
    rows["review"] = make_review(cast)
    # Over since long ago: it opens nothing.
    rows["team"] = Team.objects.create(district=cast.district, name="PE", first_day=date(-300), last_day=date(-299))
    rows["team"].members.set([cast.teacher, cast.coordinator])
    rows["role"] = PersonRole.objects.create(
        person=cast.teacher, role=Person.Role.SUBSTITUTE, first_day=date_there() + dt.timedelta(days=1)
    )
    rows.update(_retention_rows(cast))
    rows["packet_link"], packet_secret = _packet(cast)
    rows["access"] = Access.objects.create(district=cast.district, person=cast.coordinator, kind="view")
    rows["care_view"] = CareView.objects.create(
        viewer=cast.substitute, student=cast.student, seen_at=timezone.now(), page="day"
    )
    rows["cover"] = _cover(cast, rows["happening"])
    rows["calendar_source"] = CalendarSource.objects.create(
        district=cast.district, keeper=cast.coordinator, title="Website", address="https://fells.example/a.ics"
    )
    rows["progress_report"] = ProgressReport.objects.create(
        student=cast.student,
        kind="period",
        name="Quarter 1",
        first_day=date(0),
        last_day=date(40),
        created_by=cast.teacher,
    )
    rows["busy"] = BusyCalendar.objects.create(
        district=cast.district, teacher=cast.teacher, title="Choir", address="https://calendar.example/a.ics"
    )
    ids = {name: row.pk for name, row in rows.items()}
    uid = str(week.sessions.get().uid)
    entry = log_line(cast, date(14))
    logged = {"log_uid": str(to_log.uid), "log_entry": entry.pk, "sending": str(entry.client_id)}
    return Things(
        cast,
        {
            **ids,
            **logged,
            "uid": uid,
            "make_up": _make_up(cast, week),
            "packet_secret": packet_secret,
            "secret": address.rpartition("/")[2].removesuffix(".ics"),
        },
    )
