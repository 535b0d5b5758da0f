"""Who is offered while somebody types; the words come in the body, so that no address holds a name."""

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_POST

from accounts.pages import person_of
from caseload.plans.finding.selectors import students_offered, words_read
from caseload.plans.models import Student

FIELDS = ("student", "other_student")
"""Fields of forms in which a student is found."""


@require_POST
@permission_required("caseload.view", raise_exception=True)
def students_found(request: HttpRequest) -> HttpResponse:
    """Boxes of those whom the person sees, with the words of one of the `FIELDS`, else the first."""
    viewer = person_of(request)
    field = next((one for one in FIELDS if f"{one}_words" in request.POST), FIELDS[0])
    words = words_read(request.POST.get(f"{field}_words", ""))
    offered = students_offered(viewer, Student.objects.visible_to(viewer), words)
    told = {"field": field, "offered": offered, "words": words, "asked": True}
    return render(request, "caseload/finding/offered.html", told)
