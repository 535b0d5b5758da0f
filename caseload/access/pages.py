"""Who saw what: on a page and as a file."""

import datetime as dt
from typing import Any

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.files import FILE_TYPES, write_csv
from accounts.pages import person_of
from accounts.selectors import today_of
from caseload.access.forms import AccessForm
from caseload.access.selectors import MOST, PERMISSION, AccessAsked, AccessLine, accesses

TWO_WEEKS = dt.timedelta(days=13)
COLUMNS = ("Date", "Time", "Who", "Role", "Did", "What", "Students", "How many students", "Why")


@require_safe
@permission_required(PERMISSION, raise_exception=True)
def accesses_page(request: HttpRequest) -> HttpResponse:
    """The last two weeks, or what was asked for; with `form=csv` all of it as a file."""
    viewer = person_of(request)
    today = today_of(viewer)
    usual: dict[str, Any] = {"first": today - TWO_WEEKS, "last": today}
    form = AccessForm(request.GET if "first" in request.GET else usual, viewer=viewer)
    asked = AccessAsked(**form.cleaned_data) if form.is_valid() else AccessAsked(**usual)
    found = accesses(viewer, asked)
    if request.GET.get("form") == "csv":
        headers = {"Content-Disposition": 'attachment; filename="who-saw-what.csv"', "Cache-Control": "no-store"}
        return HttpResponse(access_file(found), content_type=FILE_TYPES["csv"], headers=headers)
    query = request.GET.copy()
    query["form"] = "csv"
    for name in ("first", "last"):
        query[name] = getattr(asked, name).isoformat()
    context = {"form": form, "lines": found[:MOST], "more": len(found) > MOST, "file": query.urlencode()}
    return render(request, "caseload/access/accesses.html", context)


def access_file(lines: list[AccessLine]) -> bytes:
    """The lines as a CSV file, in the district's time."""
    return write_csv(COLUMNS, (_cells(one) for one in lines))


def _cells(one: AccessLine) -> tuple[str, ...]:
    at = timezone.localtime(one.at)
    day, clock, many = at.date().isoformat(), at.strftime("%H:%M"), str(one.count or "")
    return (day, clock, one.who, one.role, one.done, one.what, ", ".join(one.students), many, one.why)
