"""What pages that list, edit and delete rows have in common.

A page finds the row among those that are the person's to change (404 otherwise), asks the role (403), lets the form
read what was typed, and calls one service. The service's answer is at the form's fields.
"""

import hashlib
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.context_processors import PermWrapper
from django.core.exceptions import PermissionDenied, ValidationError
from django.core.paginator import Paginator
from django.db import models
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views import View

from accounts.errors import ApplicationError
from accounts.forms import RecordForm
from accounts.models import Person, ScopedQuerySet
from accounts.selectors import deletion_foreseen

type Crumbs = list[tuple[str, str]]


def person_of(request: HttpRequest) -> Person:
    """Who is signed in; the middleware lets nobody else through."""
    if not isinstance(request.user, Person):
        raise PermissionDenied
    return request.user


def site_of(request: HttpRequest) -> str:
    """Scheme and host with which addresses that leave the program begin: as set up, else as it was asked for."""
    return settings.SITE_ADDRESS.rstrip("/") or request.build_absolute_uri("/").rstrip("/")


A_PAGE = 100
"""Rows on a page of a list: a teacher's whole caseload, and of a district a part that loads at once."""


@dataclass(frozen=True, slots=True)
class ListPage[Row]:
    """A part of a long list. `first` and `last` count from 1 among all `count` rows.

    `steps` are the pages to choose from with their addresses, empty where the list has one page; a number of 0
    stands for those left out. `before` and `after` are addresses, empty at the ends.
    """

    rows: Sequence[Row]
    count: int
    first: int
    last: int
    number: int
    steps: tuple[tuple[int, str], ...]
    before: str
    after: str


def list_page[Row](request: HttpRequest, rows: Any, *, name: str = "page", size: int = A_PAGE) -> ListPage[Row]:
    """The page of a list that the address asks for by `name`, else its first one; a number too high is the last."""
    pages = Paginator(rows, size)
    page = pages.get_page(request.GET.get(name))

    def address(number: int) -> str:
        asked = request.GET.copy()
        asked[name] = str(number)
        return f"?{asked.urlencode()}"

    found = tuple(page.object_list)
    numbers = pages.get_elided_page_range(page.number) if pages.num_pages > 1 else ()
    return ListPage(
        rows=found,
        count=pages.count,
        first=page.start_index(),
        last=page.end_index(),
        number=page.number,
        steps=tuple((one, address(one)) if isinstance(one, int) else (0, "") for one in numbers),
        before=address(page.number - 1) if page.has_previous() else "",
        after=address(page.number + 1) if page.has_next() else "",
    )


def find_visible[M: models.Model](model: type[M], person: Person, pk: int) -> M:
    """A row by id among those that the person sees. Raises `Http404`."""
    row: M = get_object_or_404(_scoped(model).visible_to(person), pk=pk)
    return row


def find_changeable[M: models.Model](model: type[M], person: Person, pk: int) -> M:
    """A row by id among those that are the person's to change. Raises `Http404`."""
    row: M = get_object_or_404(_scoped(model).changeable_by(person), pk=pk)
    return row


class _OnlyLooks:
    """Whoever sees something that isn't theirs to change: as templates ask for permissions."""

    def __init__(self, person: Person, kept: Collection[str]) -> None:
        self.person, self.kept = person, kept

    def has_perm(self, name: str) -> bool:
        """What opens something to be read, and what is kept beside it."""
        return (name.endswith(".view") or name in self.kept) and self.person.has_perm(name)


def seen_only(person: Person, row: models.Model, kept: Collection[str] = ()) -> dict[str, Any]:
    """What a page's template has to know of a row that is a mate's: nothing of it can be changed but by `kept`.

    Empty where the row is the person's to change; no query where the request knows no mates.
    """
    if not person.mates or _scoped(type(row)).changeable_by(person).filter(pk=row.pk).exists():
        return {}
    return looks_only(person, kept)


def looks_only(person: Person, kept: Collection[str] = ()) -> dict[str, Any]:
    """The same of what is known to be a mate's."""
    return {"perms": PermWrapper(_OnlyLooks(person, kept)), "seen_only": True}


def _scoped(model: type[models.Model]) -> ScopedQuerySet[Any]:
    rows = model._meta.default_manager
    scoped = rows.all() if rows is not None else None
    if not isinstance(scoped, ScopedQuerySet):
        message = f"{model.__name__} has no visible_to"
        raise TypeError(message)
    return scoped


def _tried[T](form: RecordForm, act: Callable[[], T]) -> T | None:
    """What it gives back, or nothing and the problems in the form."""
    try:
        return act()
    except ValidationError as error:
        form.refuse(error)
    except ApplicationError as error:
        if error.status in {403, 404}:
            raise
        form.add_error(None, error.message)
    return None


def do_and_say[T](
    request: HttpRequest,
    act: Callable[[], T],
    done: str | Callable[[T], str] = "",
    *,
    raised: Collection[int] = (403, 404),
) -> T | None:
    """Do it and say so, or say why it is refused: a press without a form. Raises what has a status in `raised`.

    `done` may be worked out from what came of it, such as a count. Returns that, or None where it was refused.
    """
    try:
        found = act()
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    except ApplicationError as error:
        if error.status in raised:
            raise
        messages.error(request, error.message)
    else:
        words = done if isinstance(done, str) else done(found)
        if words:
            messages.success(request, words)
        return found
    return None


def watched(request: HttpRequest, template: str, context: Mapping[str, Any]) -> HttpResponse:
    """A page of something that goes on in the background; htmx asks for its part named ``progress`` only."""
    part = f"{template}#progress" if request.headers.get("HX-Request") else template
    return render(request, part, {**context})


def effects_digest(told: list[str]) -> str:
    """What a page sends back to say that these effects, and no others, were shown on it."""
    return hashlib.sha256("\n".join(told).encode()).hexdigest()


class RecordPage[M: models.Model](View):
    """The person, the permission, the row and the way back."""

    model: type[M]
    permission: ClassVar[str]
    noun: ClassVar[str]
    # What forms send. Without this line the method `delete` of pages that delete would answer HTTP's DELETE.
    http_method_names = ["get", "head", "post", "options"]

    @property
    def person(self) -> Person:
        """Who is signed in."""
        return person_of(self.request)

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        """Ask the role first."""
        if not person_of(request).has_perm(self.permission):
            raise PermissionDenied
        return super().dispatch(request, *args, **kwargs)

    def find_row(self) -> M:
        """The row that the address names."""
        return find_changeable(self.model, self.person, self.kwargs["pk"])

    def back(self, row: M) -> str:
        """Where the person came from and goes on to."""
        raise NotImplementedError

    def crumbs(self, row: M) -> Crumbs:
        """The pages above."""
        raise NotImplementedError

    def in_title(self, row: M) -> str:
        """What the row is called in the page's title, which stays in the browser's history."""
        return str(row)


class RecordFormPage[M: models.Model](RecordPage[M]):
    """A new row (no `pk` in the address) or a change to one."""

    form_class: type[RecordForm]
    template_name = "accounts/record_form.html"
    intro = ""
    effects_said = "Saving this changes figures. Nothing is saved yet."
    effects_button = "Save with these changes"

    def new_row(self) -> M:
        """An unsaved row that already has its parent."""
        return self.model()

    def save(self, row: M, values: Mapping[str, Any]) -> M:
        """Call the one service."""
        raise NotImplementedError

    def delete_address(self, row: M) -> str:
        """Address of the page that deletes it; empty if there is none."""
        return ""

    def initial(self) -> dict[str, Any]:
        """What a new row's form begins with."""
        return {}

    def begins_with(self, row: M) -> dict[str, Any]:
        """What the form begins with; of a row that is saved, what is saved of it."""
        return {} if row.pk else self.initial()

    def title(self, row: M) -> str:
        """The page's title."""
        return f"Change {self.noun}" if row.pk else f"New {self.noun}"

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Show the form."""
        row = self._row()
        return self.show(row, self.form_class(instance=row, viewer=self.person, initial=self.begins_with(row)))

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Save, or show what is wrong."""
        row = self._row()
        form = self.form_class(request.POST, request.FILES, instance=row, viewer=self.person)
        if form.is_valid():
            told = self._effects_unseen(row, form)
            if told:
                return self.show(self._row(), form, effects=told, effects_seen=effects_digest(told))
            saved = self.try_save(row, form) if not form.errors else None
            if saved is not None:
                messages.success(request, self.saved_message(saved))
                return redirect(self.back(saved))
            row = self._row()
        return self.show(row, form, status=422)

    def effects(self, row: M, values: Mapping[str, Any]) -> list[str]:
        """What saving would change of figures, in sentences; saves nothing. They are shown before it is saved."""
        return []

    def _effects_unseen(self, row: M, form: RecordForm) -> list[str]:
        """The effects, unless the person has just seen these very ones; what can't be saved has none."""
        told = _tried(form, lambda: self.effects(row, form.cleaned_data)) or []
        return told if told and self.request.POST.get("effects_seen") != effects_digest(told) else []

    def try_save(self, row: M, form: RecordForm) -> M | None:
        """The saved row, or nothing and the problems in the form."""
        return _tried(form, lambda: self.save(row, form.cleaned_data))

    def saved_message(self, row: M) -> str:
        """Said after saving."""
        return f"The {self.noun} is saved."

    def show(self, row: M, form: RecordForm, status: int = 200, **more: Any) -> HttpResponse:
        """The page with the form."""
        context = {
            "title": self.title(row),
            "row_in_title": self.in_title(row) if row.pk else "",
            "intro": self.intro,
            "form": form,
            "row": row,
            "crumbs": self.crumbs(row),
            "back": self.back(row),
            "delete_address": self.delete_address(row) if row.pk else "",
            "delete_label": f"Delete this {self.noun}",
            "effects_said": self.effects_said,
            "effects_button": self.effects_button,
        }
        return render(self.request, self.template_name, {**context, **more}, status=status)

    def _row(self) -> M:
        return self.find_row() if "pk" in self.kwargs else self.new_row()


class RecordDeletePage[M: models.Model](RecordPage[M]):
    """Asks first, says what goes with it, then deletes."""

    template_name = "accounts/record_delete.html"
    can_be_undone = False
    effects_said = "This changes figures:"

    def delete(self, row: M) -> None:
        """Call the one service."""
        raise NotImplementedError

    def after(self, row: M) -> str:
        """Where to go once the row is gone."""
        return self.back(row)

    def label(self, row: M) -> str:
        """What the row is called on the page."""
        return str(row)

    def effects(self, row: M) -> list[str]:
        """What deleting would change of figures, in sentences; deletes nothing."""
        return []

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Ask."""
        row = self.find_row()
        context = {
            "title": f"Delete {self.noun}",
            "row_in_title": self.in_title(row),
            "noun": self.noun,
            "label": self.label(row),
            "row": row,
            "deletion": deletion_foreseen(row),
            "can_be_undone": self.can_be_undone,
            "effects": self.effects(row),
            "effects_said": self.effects_said,
            "crumbs": self.crumbs(row),
            "back": self.back(row),
        }
        return render(request, self.template_name, context)

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Delete, or say why not."""
        row = self.find_row()
        onward, back = self.after(row), self.back(row)
        try:
            self.delete(row)
        except ApplicationError as error:
            if error.status in {403, 404}:
                raise
            messages.error(request, error.message)
            return redirect(back)
        messages.success(request, f"The {self.noun} is deleted.")
        return redirect(onward)
