"""Starting the coming year, and taking it back."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.pages import do_and_say, person_of
from caseload.plans.models import Student
from caseload.plans.names import student_names
from schedule.next_year.pages.drafts import crumbs_of
from schedule.next_year.selectors.drafts import next_year_get
from schedule.next_year.services.drafting import PERMISSION
from schedule.next_year.services.starting import next_year_foreseen, next_year_start, next_year_take_back

OF_STUDENT = "student."


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required(PERMISSION, raise_exception=True)
def next_year_starting(request: HttpRequest, pk: int) -> HttpResponse:
    """What starting writes, then start."""
    viewer = person_of(request)
    row = next_year_get(viewer, pk)
    problems: list[tuple[Student, str]] = []
    if request.method == "POST":
        try:
            next_year_start(actor=viewer, row=row)
        except ValidationError as error:
            problems = _about(viewer, error)
            for text in _of_the_year(error):
                messages.error(request, text)
        except ApplicationError as error:
            if error.status in {403, 404}:
                raise
            messages.error(request, error.message)
            return redirect("next_year_start", pk)
        else:
            messages.success(request, f"{row} is started. Days before {row.first_day:%B} {row.first_day.day} stay.")
            return redirect("next_year", pk)
    refused = request.method == "POST"
    context = {
        "row": row,
        "foreseen": next_year_foreseen(actor=viewer, row=row),
        "problems": problems,
        "names": student_names(viewer),
        "crumbs": crumbs_of(row),
    }
    return render(request, "schedule/next_year/start.html", context, status=422 if refused else 200)


def _about(viewer: Person, error: ValidationError) -> list[tuple[Student, str]]:
    """Each student who can't go over, with why."""
    told = {name: texts for name, texts in error.message_dict.items() if name.startswith(OF_STUDENT)}
    students = Student.objects.visible_to(viewer).in_bulk([int(name.rpartition(".")[2]) for name in told])
    found = [(students[int(name.rpartition(".")[2])], " ".join(texts)) for name, texts in told.items()]
    return sorted(found, key=lambda one: (one[0].last_name, one[0].first_name))


def _of_the_year(error: ValidationError) -> list[str]:
    """What the calendar refuses: the school year, a marking period or a special day."""
    found = (texts for name, texts in error.message_dict.items() if not name.startswith(OF_STUDENT))
    return [f"Nothing is written. {text}" for texts in found for text in texts]


@require_POST
@permission_required(PERMISSION, raise_exception=True)
def next_year_taking_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Take back all that starting wrote."""
    viewer = person_of(request)
    row = next_year_get(viewer, pk)
    done = "Taken back: everybody is where this year has them, and the draft is here to be worked on."
    do_and_say(request, lambda: next_year_take_back(actor=viewer, row=row), done)
    return redirect("next_year", pk)
