"""The workload of each teacher, for the coordinators of a district."""

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.models import Person
from accounts.pages import ListPage, list_page
from schedule.weeks.pages.request import date_in, viewer_of
from schedule.weeks.planning.load import monday_of
from schedule.weeks.selectors.pages import district_today
from schedule.workload.selectors.district import district_workload, teachers_at_work
from schedule.workload.selectors.teachers import WEEK, workloads_of

TEACHERS_SHOWN = 25
"""A page has few, since each row is worked out from the teacher's services and week."""


@require_safe
@permission_required("workload.view", raise_exception=True)
def workload_page(request: HttpRequest) -> HttpResponse:
    """What each teacher's week is made of; any day of the week in the address, this week without one."""
    viewer = viewer_of(request)
    today = district_today(viewer)
    monday = monday_of(date_in(request, "week") or today)
    page: ListPage[Person] = list_page(request, teachers_at_work(viewer, monday), size=TEACHERS_SHOWN)
    context = {
        "found": district_workload(viewer, monday),
        "page": page,
        "teachers": workloads_of(viewer, page.rows, monday),
        "before": monday - WEEK,
        "after": monday + WEEK,
        "is_now": monday == monday_of(today),
        "crumbs": [("Reports", reverse("report_home"))],
    }
    return render(request, "schedule/workload.html", context)
