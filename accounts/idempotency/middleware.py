"""Every request that changes something may carry a key, and is then taken once.

The key comes in the header ``Idempotency-Key`` (draft-ietf-httpapi-idempotency-key-header-06) or in a form's hidden
field. What was taken before is answered without being done again; what was refused left nothing behind, so the same
key can be sent again.
"""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render

from accounts.errors import ApplicationError
from accounts.idempotency.sent import FIELD, fingerprint, form_content, json_content, key_read, made_id
from accounts.idempotency.services import Answered, sending_take
from accounts.models import IdempotencyKey, Person
from accounts.sign_in.phone_key import phone_key

HEADER = "Idempotency-Key"
PERSON = "X-Person"
"""Whose page it was sent from (`accounts.sign_in.phone_key`): on a shared phone the sign-in may be another's."""
OTHER_PERSON = "Somebody else is signed in here now. Nothing is saved: sign in as yourself and send it again."
SAFE = frozenset({"GET", "HEAD", "OPTIONS", "TRACE"})
FORMS = frozenset({"application/x-www-form-urlencoded", "multipart/form-data"})
ARRIVED = "accounts.idempotency.arrived"
UNDER_KEY = "accounts.idempotency.under_key"
"""Set where a request is one transaction with its key: sent again, it is taken once."""
NOT_A_KEY = (
    "The Idempotency-Key isn't one. Send 8 to 64 letters, digits, hyphens and underscores, such as a UUID, "
    "in quotes."
)


class IdempotencyMiddleware:
    """Takes a sending with a key once."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on unless it was taken before."""
        text = _key_of(request)
        if _is_anothers(request):
            return _refused(request, ApplicationError(OTHER_PERSON, code="other_person"))
        person = request.user if text else None
        if not text or not isinstance(person, Person):
            return self.get_response(request)
        key = key_read(text)
        if key is None:
            return _refused(request, ApplicationError(NOT_A_KEY, code="idempotency_key_invalid", status=400))
        request.META[UNDER_KEY] = True
        answers: list[HttpResponse] = []

        def act() -> Answered | None:
            answers.append(self.get_response(request))
            return _taken(request, answers[0])

        try:
            known = sending_take(person=person, key=key, content=_content(request), act=act)
        except ApplicationError as error:
            return _refused(request, error)
        return answers[0] if known is None else _again(known)

    def process_view(self, request: HttpRequest, *view: object) -> None:
        """Nothing turned the request away on its way to the view: not a missing sign-in, not a forged form."""
        request.META[ARRIVED] = True


def _is_anothers(request: HttpRequest) -> bool:
    told = request.headers.get(PERSON, "")
    person = request.user if told else None
    return isinstance(person, Person) and phone_key(person) != told


def _key_of(request: HttpRequest) -> str:
    if request.method in SAFE:
        return ""
    told = request.headers.get(HEADER, "")
    return told or (request.POST.get(FIELD, "") if request.content_type in FORMS else "")


def _content(request: HttpRequest) -> str:
    method, address = request.method or "", request.get_full_path()
    if request.content_type not in FORMS:
        return fingerprint(method, address, json_content(request.body))
    files = [(name, [one.name or "" for one in request.FILES.getlist(name)]) for name in request.FILES]
    told = [form_content(request.POST.lists()), form_content(files)]
    for name in sorted(request.FILES):
        for one in request.FILES.getlist(name):
            told.append(one.read())
            one.seek(0)
    return fingerprint(method, address, *told)


def _taken(request: HttpRequest, response: HttpResponse) -> Answered | None:
    """What the view answered, if that means that it was saved: a page leads on, the API doesn't refuse."""
    if not request.META.get(ARRIVED) or response.status_code >= 400:
        return None
    if 300 <= response.status_code < 400:
        return Answered(response.status_code, response.headers.get("Location", "")[:500])
    if response.headers.get("Content-Type", "").startswith("text/html"):
        return Answered(response.status_code, final=False)
    return Answered(response.status_code, made_id="" if response.streaming else made_id(response.content))


def _again(known: IdempotencyKey) -> HttpResponse:
    """What was taken before: a page leads where it led, the API says when that was."""
    if known.location:
        return redirect(known.location)
    told = {"code": "taken_before", "taken_at": known.taken_at, "id": known.made_id or None}
    return JsonResponse(told, status=known.status)


def _refused(request: HttpRequest, error: ApplicationError) -> HttpResponse:
    if request.path.startswith("/api/"):
        return JsonResponse({"code": error.code, "message": error.message, "fields": {}}, status=error.status)
    shown = {"title": "That can't be done", "message": error.message, "status": error.status}
    return render(request, "error.html", shown, status=error.status)
