"""One of everything that an address can name, of the cast's teacher."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from accounts.models import Substitution
from caseload.models import StudentHold
from jobs.models import Job
from schedule.models import (
    BellRule,
    CalendarEntry,
    ClassMeeting,
    ContractDay,
    ImportBatch,
    MarkingPeriod,
    Meeting,
    PlanRun,
    SchoolYear,
    SpaceFreeTime,
    TeacherRules,
    UnplacedSession,
    WordRule,
)
from schedule.services.feeds import feed_add
from tests.conftest import Cast, make_cast
from tests.schedule.builders import MONDAY, at, date, make_cycle, make_ground, make_week
from tests.schedule.log_builders import log_line, publish_session
from travel.models import DriveFactor, DriveLog, OwnDriveTime, TravelChoices

PAST = dt.date(2026, 1, 9)


@dataclass(frozen=True, slots=True)
class Things:
    """The cast, and ids by the names that the table uses."""

    cast: Cast
    ids: dict[str, Any]

    def value(self, name: str) -> Any:
        """The id of a thing, or what stands after an equals sign."""
        return name.removeprefix("=") if name.startswith("=") else self.ids[name]


def _school_rows(cast: Cast) -> dict[str, Any]:
    bells = cast.north.bell_schedules.get()
    year = SchoolYear.objects.get()
    slot = {"days": "Mon", "start": at("9:00"), "end": at("9:40")}
    day = dt.date(2026, 11, 26)
    return {
        "bells": bells,
        "bell_rule": BellRule.objects.create(building=cast.north, day="Wed", schedule=bells),
        "rotation": make_cycle(cast.north),
        "free_time": SpaceFreeTime.objects.create(space=cast.gym, **slot),
        "class_meeting": ClassMeeting.objects.create(school_class=cast.room4, **slot),
        "year": year,
        "marking_period": MarkingPeriod.objects.create(
            district=cast.district, school_year=year, name="MP1", first_day=year.first_day, last_day=day
        ),
        "entry": CalendarEntry.objects.create(district=cast.district, first_date=day, last_date=day),
        "drive_factor": DriveFactor.objects.create(
            district=cast.district, start=at("7:30"), end=at("8:15"), factor="1.25"
        ),
        "travel_choices": TravelChoices.objects.create(district=cast.district),
        "word": WordRule.objects.create(district=cast.district, words="half day", kind="early_dismissal"),
    }


def _own_rows(cast: Cast) -> dict[str, Any]:
    own = {"district": cast.district, "teacher": cast.teacher}
    job = Job.objects.create(kind="plan_week")
    run = PlanRun.objects.create(requested_by=cast.teacher, first_date=MONDAY, last_date=date(4), job=job, **own)
    return {
        "drive": OwnDriveTime.objects.create(origin=cast.north, destination=cast.south, minutes=14, **own),
        "drive_log": DriveLog.objects.create(
            origin=cast.north, destination=cast.south, date=MONDAY, odometer_before="10.0", **own
        ),
        "cover": Substitution.objects.create(
            teacher=cast.teacher, substitute=cast.substitute, first_date=PAST, last_date=PAST
        ),
        "hold": StudentHold.objects.create(student=cast.student, start=at("13:15"), end=at("13:45")),
        "rules": TeacherRules.objects.get(),
        "contract_day": ContractDay.objects.get(weekday=0),
        "meeting": Meeting.objects.create(title="Team", weekday=4, start=at("14:15"), end=at("15:00"), **own),
        "run": run,
        "batch": ImportBatch.objects.create(
            district=cast.district, person=cast.teacher, kind="spaces", content={"files": []}
        ),
    }


def make_things() -> Things:
    """Everything, saved. The week is a draft with one session, one still to be placed."""
    cast = make_cast()
    make_ground(cast)
    week = make_week(cast, [(f"line-{cast.line.pk}", date(0), "8:30")])
    to_log = publish_session(date(7), [cast.line])
    rows = {**_school_rows(cast), **_own_rows(cast), "week": week}
    rows["unplaced"] = UnplacedSession.objects.get(week=week)
    names = ("north", "gym", "teacher", "student", "plan", "line", "room4")
    rows.update({name: getattr(cast, name) for name in names})
    feed, address = feed_add(
        actor=cast.teacher, kind="teacher", site="http://testserver", values={"label": "phone"}
    )
    rows["feed"] = feed
    ids = {name: row.pk for name, row in rows.items()}
    logged = {"log_uid": str(to_log.uid), "log_entry": log_line(cast, date(14)).pk}
    return Things(
        cast,
        {
            **ids,
            **logged,
            "uid": str(week.sessions.get().uid),
            "secret": address.rpartition("/")[2].removesuffix(".ics"),
        },
    )
