"""The workload of each teacher, for the coordinators of a district."""

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.pages import list_page
from schedule.weeks.pages.request import date_in, viewer_of
from schedule.weeks.planning.load import monday_of
from schedule.weeks.selectors.pages import district_today
from schedule.workload.selectors import WEEK, district_workload


@require_safe
@permission_required("workload.view", raise_exception=True)
def workload_page(request: HttpRequest) -> HttpResponse:
    """What each teacher's week is made of; any day of the week in the address, this week without one."""
    viewer = viewer_of(request)
    today = district_today(viewer)
    monday = monday_of(date_in(request, "week") or today)
    found = district_workload(viewer, monday)
    context = {
        "found": found,
        "page": list_page(request, found.teachers),
        "before": monday - WEEK,
        "after": monday + WEEK,
        "is_now": monday == monday_of(today),
        "crumbs": [("Reports", reverse("report_home"))],
    }
    return render(request, "schedule/workload.html", context)
