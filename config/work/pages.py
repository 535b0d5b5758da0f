"""The page of work that broke off."""

import uuid

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from accounts.pages import person_of
from config.work.selectors import broken_work
from config.work.services import work_start_again


@require_safe
@permission_required("district.settings", raise_exception=True)
def work_page(request: HttpRequest) -> HttpResponse:
    """What broke off in the district, with the way to start it again."""
    return render(request, "work/broken.html", {"found": broken_work(person_of(request))})


@require_POST
@permission_required("district.settings", raise_exception=True)
def start_again(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Start one again."""
    work_start_again(actor=person_of(request), pk=pk)
    messages.success(request, "Started again. It shows where it was asked for; if it breaks off once more, here.")
    return redirect("work")
