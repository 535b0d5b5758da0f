"""Around each request: what of students was in the answer is recorded here, for pages, files and the API alike."""

from collections.abc import Callable
from copy import copy

from django.contrib.auth.signals import user_logged_in
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from accounts.models import Person
from accounts.roles.selectors import role_begun
from accounts.sign_in.staying import SECOND_STEP, browser_words
from accounts.sign_in.trying import try_counted
from caseload.access.models import Access
from caseload.access.services import access_record, access_refused
from caseload.care.seen import seen_collected
from caseload.care.services.seen import care_views_record
from caseload.plans.models import Student
from caseload.plans.shown import shown_collected

SHOWN, TURNED_AWAY = 200, 403
NOT_ASKED = frozenset({"feed_ics", "packet_open"})
"""Calendars and links: they have no session, and record themselves."""
KEPT_FILES = frozenset({"report_district", "api:report_district"})
"""Files that were made before: no student is read when they are handed out."""
HOLDERS = frozenset({Person.Role.TEACHER, Person.Role.SUBSTITUTE})
"""They see nobody but their caseload, whom they serve, whom they cover, and mates' (Student.objects.visible_to)."""
MATE = "shares a caseload in a team"
REASONS = {
    Person.Role.TEACHER: "teaches or serves them",
    Person.Role.SUBSTITUTE: "stands in for their teacher",
    Person.Role.REVIEWER: "reviews these buildings",
    Person.Role.COORDINATOR: "answers for the district’s services",  # noqa: RUF001 -- as pages write it
}


class AccessMiddleware:
    """What was read and not shown, as before a redirect, is no access."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer, and record what was in the answer."""
        with seen_collected() as cared, shown_collected() as shown:
            response = self.get_response(request)
        match = request.resolver_match
        page = match.view_name if match is not None else ""
        if page in NOT_ASKED:
            return response
        has_students = bool(shown or cared or page in KEPT_FILES) and _is_shown(request, response)
        # Who it is, is asked only where something is to be recorded: asking puts a session's headers on the answer.
        if has_students and isinstance(request.user, Person):
            _record(request, response, page, request.user, shown, cared)
        elif response.status_code == TURNED_AWAY and isinstance(request.user, Person):
            access_refused(person=request.user, page=page)
        return response


def _is_shown(request: HttpRequest, response: HttpResponse) -> bool:
    return response.status_code == SHOWN and request.method != "HEAD"


def _record(
    request: HttpRequest, response: HttpResponse, page: str, person: Person, shown: set[int], cared: set[int]
) -> None:
    now = timezone.now()
    if cared and person.role == Person.Role.SUBSTITUTE:
        care_views_record(viewer=person, students=cared, page=page, now=now)
    students = shown | cared
    if _is_file(response):
        why, about = _why(request, person) if students else "", _file_words(request)
        access_record(
            person=person, kind=Access.Kind.FILE, page=page, about=about, why=why, students=students, now=now
        )
    elif person.role not in HOLDERS:
        why = _why(request, person) if students else ""
        access_record(person=person, kind=Access.Kind.VIEW, page=page, why=why, students=students, now=now)
    elif of_mates := _of_mates(person, students):
        # The own students, whom the same page may show, aren't among them: of those the person is the holder.
        access_record(person=person, kind=Access.Kind.VIEW, page=page, why=MATE, students=of_mates, now=now)


def _why(request: HttpRequest, person: Person) -> str:
    """The reason that was given, or that of the role."""
    return request.POST.get("why") or REASONS.get(Person.Role(person.role), "")


def _of_mates(person: Person, students: set[int]) -> set[int]:
    """Which of these students are in the answer by a team alone; nobody where the request knows no mates."""
    if not person.mates or not students:
        return set()
    own = Student.objects.changeable_by(person).filter(pk__in=students)
    return students - set(own.order_by().values_list("pk", flat=True))


def _is_file(response: HttpResponse) -> bool:
    return response.headers.get("Content-Disposition", "").startswith("attachment")


def _file_words(request: HttpRequest) -> str:
    """Which file, by the words of its address and its form: ids and names stay out."""
    match = request.resolver_match
    told = [str(one) for one in (match.kwargs if match is not None else {}).values() if not str(one).isdigit()]
    told += [request.POST.get(name, "") or request.GET.get(name, "") for name in ("form", "what", "kind")]
    return ", ".join(one for one in told if one and len(one) <= 30)


def _signed_in(sender: object, request: HttpRequest, user: Person, **more: object) -> None:
    browser = browser_words(request.META.get("HTTP_USER_AGENT", "")) or "A browser"
    words = f"{browser}, second step: {request.META.get(SECOND_STEP) or 'none'}"
    # The sign-in itself knows no session's role yet: it is the one in which the session begins.
    begun = copy(user).act_as(role_begun(user))
    access_record(person=begun, kind=Access.Kind.SIGNED_IN, about=words)


def _refused(sender: object, request: HttpRequest, name: str, **more: object) -> None:
    person = Person.objects.filter(username=name).first()
    if person is not None:
        words = browser_words(request.META.get("HTTP_USER_AGENT", ""))
        access_record(person=person, kind=Access.Kind.REFUSED, about=words)


def connect() -> None:
    """Hear of sign-ins, good and bad."""
    user_logged_in.connect(_signed_in, dispatch_uid="access-signed-in")
    try_counted.connect(_refused, dispatch_uid="access-refused")
