"""Reads of how students are called for somebody who looks; `caseload.plans.naming` decides."""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from functools import cached_property

from django.db.models import QuerySet, Value
from django.db.models.functions import Concat, Lower

from accounts.idempotency.shared import shared
from accounts.models import Person
from accounts.selectors import today_of
from caseload.plans.grades import grade_words
from caseload.plans.models import Student
from caseload.plans.naming import NameCard, StudentNames, names_in, words_of
from caseload.plans.shown import shown_note, shown_so_far

NAMED = (
    "“{name}” is the name of a student. Phones’ calendars and messages show these words as they are "  # noqa: RUF001 -- as pages write it
    "written: say it without the name, unless everyone who reads them may know."
)

NAME_SAID = "A student’s name. Nothing is saved yet."  # noqa: RUF001 -- as above
NAME_BUTTON = "Save it all the same"


def student_names(viewer: Person, among: Iterable[int] | None = None) -> StudentNames:
    """Names of every student whom the viewer may see, told apart from all of those; read when one is asked for.

    Short names and initials only have to differ ``among`` the students shown together, where given. A viewer whose
    page will lie readable on a phone (``reads_initials``) is told initials everywhere. Who is called by a name is
    noted (caseload.plans.shown).
    """
    seen = _Seen(viewer, among)
    return StudentNames(
        full=_Words(seen, lambda names: names.full),
        listed=_Words(seen, lambda names: names.listed),
        short=_Words(seen, lambda names: names.short, apart=among is None),
        tight=_Words(seen, lambda names: names.tight, apart=among is None),
        initials=_Words(seen, lambda names: names.initials, apart=among is None),
        by_code=_CodeWords(seen),
    )


class _Cards:
    """Some of the students whom a viewer sees; how they are called among each other."""

    def __init__(self, viewer: Person, rows: QuerySet[Student], among: Collection[int] | None) -> None:
        values = rows.order_by("pk").values_list("pk", "code", "first_name", "last_name", "grade", "building__name")
        cards = [
            NameCard(pk, code, first, last, grade_words(grade), school)
            for pk, code, first, last, grade, school in values.distinct()
        ]
        self.names = StudentNames.by_initials(cards) if viewer.reads_initials else StudentNames.of(cards, among)
        self.by_code = {one.code: one.student for one in cards}


class _Seen:
    """The students whom a viewer sees.

    A coordinator's are thousands, of whom a page shows a few: first those are read who are shown together, with
    whoever has the same name as one of them, and everybody only where somebody else is asked for.
    """

    def __init__(self, viewer: Person, among: Iterable[int] | None) -> None:
        self._viewer, self._rows = viewer, Student.objects.visible_to(viewer)
        self._among = None if among is None else frozenset(among)
        self._few: frozenset[int] | None = None

    def of(self, student: int) -> _Cards:
        """With this one, if the viewer sees the student, and those of the same name."""
        if self._few is None:
            self._few = self._shown | {student} if self._by_parts else frozenset()
        return self.few if student in self._few else self.everyone

    def of_code(self, code: str) -> _Cards:
        """With the one of this code, if the viewer sees the student, and those of the same name."""
        if self._few is None:
            self._few = self._shown if self._by_parts else frozenset()
        return self.few if self._few and self.few.by_code.get(code) in self._few else self.everyone

    @property
    def _by_parts(self) -> bool:
        return self._viewer.is_coordinator and not self._viewer.reads_initials

    @property
    def _shown(self) -> frozenset[int]:
        return shown_so_far() if self._among is None else self._among

    @cached_property
    def few(self) -> _Cards:
        """Those who are shown together, and whoever has the same name but for capital letters."""
        name = Lower(Concat("first_name", Value(" "), "last_name"))
        shown = self._rows.filter(pk__in=self._few or ()).order_by().values(words=name)
        return _Cards(self._viewer, self._rows.annotate(words=name).filter(words__in=shown), self._among)

    @cached_property
    def everyone(self) -> _Cards:
        """All of them."""
        return _Cards(self._viewer, self._rows, self._among)


class _Words(Mapping[int, str]):
    """Words by student; `apart` from everybody, not only from who has the same name."""

    def __init__(
        self, seen: _Seen, of: Callable[[StudentNames], Mapping[int, str]], *, apart: bool = False
    ) -> None:
        self._seen, self._of, self._apart = seen, of, apart

    def __getitem__(self, student: int) -> str:
        cards = self._seen.everyone if self._apart else self._seen.of(student)
        words = self._of(cards.names)[student]
        shown_note(student)
        return words

    def __iter__(self) -> Iterator[int]:
        return iter(self._of(self._seen.everyone.names))

    def __len__(self) -> int:
        return len(self._of(self._seen.everyone.names))


class _CodeWords(Mapping[str, str]):
    """Words by a student's code."""

    def __init__(self, seen: _Seen) -> None:
        self._seen = seen

    def __getitem__(self, code: str) -> str:
        cards = self._seen.of_code(code)
        words = cards.names.by_code[code]
        shown_note(cards.by_code[code])
        return words

    def __iter__(self) -> Iterator[str]:
        return iter(self._seen.everyone.by_code)

    def __len__(self) -> int:
        return len(self._seen.everyone.by_code)


def students_seen(viewer: Person, among: Iterable[int]) -> frozenset[int]:
    """Which of these students the viewer may see today, by id; one query."""
    wanted = frozenset(among)
    key = ("students seen", viewer.pk, viewer.mates, today_of(viewer), wanted)
    return shared(key, lambda: _students_seen(viewer, wanted), at_once=True)


def _students_seen(viewer: Person, among: frozenset[int]) -> frozenset[int]:
    rows = Student.objects.visible_to(viewer).filter(pk__in=among)
    return frozenset(rows.order_by().values_list("pk", flat=True))


def names_written(viewer: Person, texts: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Which names of students whom the viewer sees each text holds, by text; at most one query."""
    wanted = [text for text in texts if text]
    names = names_seen(viewer) if wanted else frozenset()
    return {text: names_in(text, names) for text in wanted}


def names_seen(viewer: Person) -> frozenset[str]:
    """First and last names of the students whom the viewer sees; one query."""
    rows = Student.objects.visible_to(viewer).values_list("first_name", "last_name")
    return frozenset(word for first, last in rows for word in words_of(f"{first} {last}"))


def name_warnings(viewer: Person, text: str, seen: frozenset[str] | None = None) -> list[str]:
    """What to say of a text that phones' calendars show as it is written: a student's name in it.

    `seen`: the names to look for, where they were read already (`names_seen`).
    """
    found = names_written(viewer, [text]).get(text, ()) if seen is None else names_in(text, seen)
    return [NAMED.format(name=name) for name in found]
