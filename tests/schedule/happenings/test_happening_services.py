"""What happened, said and taken back: what it writes, who may, and what is refused."""

import datetime as dt
import uuid

import pytest
from django.core.exceptions import ValidationError

from accounts.errors import ApplicationError
from accounts.models import Substitution
from caseload.delivery.models import DeliveryVersion
from caseload.plans.models import Student
from schedule.calendar.models import CalendarEntry, Happening
from schedule.happenings.services.logged import happenings_log_due
from schedule.happenings.services.saying import happening_say, happening_take_back
from schedule.log.selectors.sessions import sessions_of_day
from schedule.log.services import session_log, sessions_mark
from schedule.weeks.planning.load import load_teacher, load_week
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at
from tests.schedule.day_builders import Day, make_day

pytestmark = pytest.mark.django_db
SUNDAY = MONDAY - dt.timedelta(days=1)


@pytest.fixture
def day(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> Day:
    """The Monday at 6:40."""
    return make_day(cast, monkeypatch)


def reasons() -> list[str]:
    """By which reasons minutes are missed as the log stands."""
    rows = DeliveryVersion.objects.current().exclude(reason=None)
    return sorted(rows.values_list("reason__code", flat=True))


def test_what_falls_out_today_is_logged_and_taken_back_whole(day: Day) -> None:
    """Ill at 6:40: five students in four sessions; one press takes all of it back, a second changes nothing."""
    row = happening_say(actor=day.cast.teacher, values={"kind": "away", "first_date": MONDAY})
    assert reasons() == ["teacher_absent"] * 5
    for _ in range(2):
        assert happening_take_back(actor=day.cast.teacher, row=row).taken_back_by == day.cast.teacher
    assert reasons() == []
    assert not Happening.objects.standing().exists()


def test_what_was_logged_before_or_changed_since_stays(day: Day) -> None:
    """One session was held before it snowed; what somebody logged is theirs."""
    day.clock("9:20")
    session_log(actor=day.cast.teacher, session=day.sessions[0], client_id=uuid.uuid4())
    row = happening_say(actor=day.cast.teacher, values={"kind": "closed", "first_date": MONDAY})
    assert reasons() == ["school_closed"] * 4
    happening_take_back(actor=day.cast.teacher, row=row)
    assert DeliveryVersion.objects.current().filter(delivered_minutes__gt=0).count() == 1


def test_a_day_ahead_is_logged_when_it_comes(day: Day) -> None:
    """Said on Sunday for two days; the job asks every minute, and logs each day once."""
    day.clock("19:00", SUNDAY)
    values = {"kind": "away", "first_date": MONDAY, "last_date": MONDAY + dt.timedelta(days=1)}
    row = happening_say(actor=day.cast.teacher, values=values)
    assert (reasons(), happenings_log_due()) == ([], 0)
    day.clock("0:05")
    assert (happenings_log_due(), happenings_log_due()) == (1, 0)
    assert reasons() == ["teacher_absent"] * 5
    row.refresh_from_db()
    assert row.logged_until == MONDAY
    happening_take_back(actor=day.cast.coordinator, row=row)
    assert reasons() == []


def test_the_calendar_shows_what_closes_schools(day: Day) -> None:
    """One entry for each school, with its hours; gone when it is taken back."""
    row = happening_say(
        actor=day.cast.teacher,
        values={"kind": "early_dismissal", "first_date": MONDAY, "start": at("11:30"), "note": "Ice"},
        buildings=[day.cast.north, day.cast.south],
    )
    told = CalendarEntry.objects.order_by("building__code").values_list("building__code", "closes_at", "title")
    assert list(told) == [("NORTH", at("11:30"), "Ice"), ("SOUTH", at("11:30"), "Ice")]
    happening_take_back(actor=day.cast.teacher, row=row)
    assert not CalendarEntry.objects.exists()


def test_two_hours_late_moves_each_schools_own_bells(day: Day) -> None:
    """The schools of the test begin at 8:30 (tests.schedule.builders.PERIODS) and end at 14:00."""
    values = {"kind": "delayed_opening", "first_date": MONDAY, "minutes": 120}
    happening_say(actor=day.cast.teacher, values=values, buildings=[day.cast.north])
    assert CalendarEntry.objects.get().opens_at == at("10:30")
    values = {"kind": "early_dismissal", "first_date": MONDAY, "minutes": 90}
    happening_say(actor=day.cast.teacher, values=values, buildings=[day.cast.south])
    assert CalendarEntry.objects.get(building=day.cast.south).closes_at == at("12:30")


def test_one_student_is_absent_from_a_session_that_goes_on(day: Day) -> None:
    """The other one waits for the log as ever."""
    happening_say(
        actor=day.cast.teacher,
        values={"kind": "student_absent", "first_date": MONDAY, "student": Student.objects.get(code="F1")},
    )
    assert reasons() == ["student_absent"]
    sessions = sessions_of_day(day.cast.teacher, MONDAY, building=day.cast.south)
    marked = sessions_mark(actor=day.cast.teacher, sessions=sessions, reason="no_space", client_id=uuid.uuid4())
    assert [one.student.code for one in marked.entries] == ["F2"]


def test_nobody_says_of_another_teacher_that_somebody_is_ill(day: Day) -> None:
    """A mate can't, a substitute and an office can say nothing, a coordinator can; a stranger sees nothing."""
    values = {"kind": "away", "first_date": MONDAY, "teacher": day.cast.teacher}
    for actor, status in ((day.cast.mate, None), (day.cast.substitute, 403), (day.cast.office, 403)):
        with pytest.raises((ApplicationError, ValidationError)) as error:
            happening_say(actor=actor, values=values)
        assert getattr(error.value, "status", status) in {status, 404}
    row = happening_say(actor=day.cast.coordinator, values=values)
    for actor in (day.cast.mate, day.cast.stranger):
        with pytest.raises(ApplicationError) as refused:
            happening_take_back(actor=actor, row=row)
        assert refused.value.status == 404
    assert happening_take_back(actor=day.cast.teacher, row=row).taken_back_at is not None


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"kind": "space_taken"}, "space"),
        ({"kind": "class_away"}, "school_class"),
        ({"kind": "student_absent"}, "student"),
        ({"kind": "late"}, "minutes"),
        ({"kind": "away", "last_date": MONDAY - dt.timedelta(days=1)}, None),
        ({"kind": "away", "last_date": MONDAY + dt.timedelta(days=61)}, "last_date"),
        ({"kind": "away", "start": at("12:00"), "end": at("11:00")}, None),
        ({"kind": "closed", "grades": "K-Z"}, "grades"),
        ({"kind": "early_dismissal", "grades": "K"}, "start"),
        ({"kind": "snow"}, "kind"),
    ],
)
def test_what_is_missing_is_asked_for_by_field(day: Day, values: dict[str, object], field: str | None) -> None:
    """And nothing is saved."""
    with pytest.raises(ValidationError) as error:
        happening_say(actor=day.cast.teacher, values={"first_date": MONDAY, **values})
    assert field is None or field in error.value.error_dict
    assert not Happening.objects.exists()


def planned_days(cast: Cast) -> set[dt.date]:
    """The dates that the planner is asked about."""
    return {dt.date.fromisoformat(one.id) for one in load_week(cast.teacher, MONDAY).problem.days}


def test_a_week_is_planned_around_an_absence(day: Day) -> None:
    """Tuesday isn't planned at all, Wednesday only from noon on; with a substitute both are usual days."""
    cast, tuesday = day.cast, MONDAY + dt.timedelta(days=1)
    wednesday = tuesday + dt.timedelta(days=1)
    assert {tuesday, wednesday} <= planned_days(cast)
    happening_say(actor=cast.teacher, values={"kind": "away", "first_date": tuesday})
    happening_say(actor=cast.teacher, values={"kind": "away", "first_date": wednesday, "end": at("12:00")})
    assert tuesday not in planned_days(cast)
    assert load_teacher(cast.teacher).busy[wednesday] == ((0, 12 * 60),)
    Substitution.objects.create(
        teacher=cast.teacher, substitute=cast.substitute, first_date=tuesday, last_date=wednesday
    )
    assert tuesday in planned_days(cast)
    assert wednesday not in load_teacher(cast.teacher).busy
