"""Who is offered while somebody types; the words come in the body, so that no address holds a name."""

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_POST

from accounts.pages import person_of
from caseload.plans.finding.selectors import students_offered, words_read
from caseload.plans.models import Student


@require_POST
@permission_required("caseload.view", raise_exception=True)
def students_found(request: HttpRequest) -> HttpResponse:
    """Boxes of those whom the person sees, with the words of `student_words`."""
    viewer, words = person_of(request), words_read(request.POST.get("student_words", ""))
    offered = students_offered(viewer, Student.objects.visible_to(viewer), words)
    return render(request, "caseload/finding/offered.html", {"offered": offered, "words": words, "asked": True})
