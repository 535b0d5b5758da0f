"""The part of a student's page about usual times."""

import datetime as dt

from django.http import HttpRequest
from django.urls import reverse

from accounts.pages import person_of, seen_only
from accounts.selectors import today_of
from caseload.plans.hooks import Panel
from caseload.plans.models import Student
from schedule.terms.selectors.usual import usual_times
from schedule.terms.usual import WEEK, NoUsualTimeView
from schedule.weeks.pages.context import query


def usual_panel(request: HttpRequest, student: Student) -> Panel:
    """Usual times in the timetables in force, and where a service without one can be fitted in."""
    person = person_of(request)
    today = today_of(person)
    times, without = usual_times(person, student, today)
    may_plan = person.has_perm("week.change") and not seen_only(person, student)
    values = {
        "times": times,
        "several": len({one.teacher_name for one in times}) > 1,
        "without": [(one, _where_it_fits(one, today) if may_plan else "") for one in without],
    }
    return Panel("schedule/terms/_student.html", values)


def _where_it_fits(one: NoUsualTimeView, today: dt.date) -> str:
    """The term planned again from the week in which it begins, or from the next one."""
    next_monday = today - dt.timedelta(days=today.weekday()) + WEEK
    return reverse("term_plan") + query(teacher=one.teacher_id, week=max(one.since, next_monday))
