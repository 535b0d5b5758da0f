"""The first hour, on a page."""

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from schedule.beginning.selectors import set_up
from schedule.weeks.pages.request import viewer_of
from schedule.weeks.selectors.pages import district_today


@require_safe
@permission_required("district.change", raise_exception=True)
def beginning_page(request: HttpRequest) -> HttpResponse:
    """What is done, what is next, with the ways for each."""
    viewer = viewer_of(request)
    context = {"found": set_up(viewer, district_today(viewer))}
    return render(request, "schedule/beginning.html", context)
