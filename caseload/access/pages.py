"""Who saw what: on a page and as a file."""

import datetime as dt
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from accounts.files import FILE_TYPES, write_csv
from accounts.pages import person_of
from accounts.selectors import today_of
from caseload.access.forms import AccessForm
from caseload.access.selectors import MOST, PERMISSION, AccessAsked, AccessLine, accesses

TWO_WEEKS = dt.timedelta(days=13)
COLUMNS = ("Date", "Time", "Who", "Role", "Did", "What", "Students", "How many students", "Why")


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required(PERMISSION, raise_exception=True)
def accesses_page(request: HttpRequest) -> HttpResponse:
    """The last two weeks, or what was asked for; with `form=csv` all of it as a file.

    What is asked for is sent in the body, since it may hold a name, and answered by an address with ids.
    """
    viewer = person_of(request)
    today = today_of(viewer)
    usual: dict[str, Any] = {"first": today - TWO_WEEKS, "last": today}
    sent = request.POST if request.method == "POST" else request.GET
    form = AccessForm(sent if "first" in sent else usual, viewer=viewer)
    if request.method == "POST" and form.is_valid():
        return redirect(f"{reverse('accesses')}?{_query(AccessAsked(**form.cleaned_data))}")
    asked = AccessAsked(**form.cleaned_data) if form.is_valid() else AccessAsked(**usual)
    found = accesses(viewer, asked)
    if request.GET.get("form") == "csv":
        headers = {"Content-Disposition": 'attachment; filename="who-saw-what.csv"', "Cache-Control": "no-store"}
        return HttpResponse(access_file(found), content_type=FILE_TYPES["csv"], headers=headers)
    context = {
        "form": form, "lines": found[:MOST], "more": len(found) > MOST, "file": _query(asked, form="csv")
    }  # fmt: skip
    status = 422 if request.method == "POST" else 200
    return render(request, "caseload/access/accesses.html", context, status=status)


def _query(asked: AccessAsked, **more: str) -> str:
    """What is asked for as an address has it, by ids."""
    parts = {
        "person": "" if asked.person is None else str(asked.person.pk),
        "student": "" if asked.student is None else str(asked.student.pk),
        "kind": asked.kind,
        "role": asked.role,
        "first": asked.first.isoformat(),
        "last": asked.last.isoformat(),
    }
    return urlencode({name: value for name, value in {**parts, **more}.items() if value})


def access_file(lines: list[AccessLine]) -> bytes:
    """The lines as a CSV file, in the district's time."""
    return write_csv(COLUMNS, (_cells(one) for one in lines))


def _cells(one: AccessLine) -> tuple[str, ...]:
    at = timezone.localtime(one.at)
    day, clock, many = at.date().isoformat(), at.strftime("%H:%M"), str(one.count or "")
    return (day, clock, one.who, one.role, one.done, one.what, ", ".join(one.students), many, one.why)
