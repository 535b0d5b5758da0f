"""Whose week a command is asked for, and which."""

import datetime as dt
from argparse import ArgumentParser
from typing import Any
from zoneinfo import ZoneInfo

from django.core.management.base import CommandError
from django.utils import timezone

from accounts.models import Person, held_ever
from schedule.weeks.aims import Aim
from schedule.weeks.selectors.school_weeks import next_full_week


def add_week_arguments(parser: ArgumentParser) -> None:
    """The teacher, the Monday, and what comes first."""
    parser.add_argument("--teacher", required=True, help="sign-in name of the teacher")
    parser.add_argument("--monday", type=dt.date.fromisoformat, help="Monday of another week: 2026-11-30")
    parser.add_argument(
        "--aim",
        choices=[aim.value for aim in Aim],
        default=Aim.USUAL_TIMES.value,
        help="what comes first: moving few sessions from their usual times (default), or driving least",
    )


def teacher_asked_for(options: dict[str, Any]) -> Person:
    """The teacher of the sign-in name given; raises `CommandError` for anybody else."""
    teacher = Person.objects.filter(held_ever(Person.Role.TEACHER), username=options["teacher"]).first()
    if teacher is None or teacher.district is None:
        raise CommandError(f"“{options['teacher']}” isn't the sign-in name of a district's teacher.")
    return teacher


def monday_asked_for(options: dict[str, Any], teacher: Person) -> dt.date:
    """The Monday given, or that of the next full school week; raises `CommandError` for another weekday."""
    zone = ZoneInfo(teacher.district.time_zone if teacher.district else "UTC")
    monday: dt.date = options["monday"] or next_full_week(teacher, timezone.localdate(timezone=zone))
    if monday.weekday() != 0:
        raise CommandError(f"{monday} isn't a Monday.")
    return monday
