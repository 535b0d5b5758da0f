"""Where a tap of the log leads: back to the page that it was made on."""

import datetime as dt
import uuid

from django.http import HttpRequest
from django.urls import reverse

from schedule.weeks.pages.context import query

DAY, RUN = "day", "run"


def way_back(request: HttpRequest, teacher: int | None, date: dt.date, uid: uuid.UUID | None) -> str:
    """The address of the page that the form says it stands on (`?back=`); the log's own where it says none.

    `teacher`: whose day it is, None for the own; `uid`: the session that it is about.
    """
    back, at = request.GET.get("back"), f"#s-{uid}" if uid is not None else ""
    whose = query(teacher=teacher) if teacher is not None else ""
    if back == RUN and uid is not None:
        return reverse("class_hour_run", args=[date, uid]) + whose
    if back == DAY:
        return reverse("day_of", args=[date]) + whose + at
    return reverse("log") + query(teacher=teacher, date=date) + at
