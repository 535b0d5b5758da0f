"""Differences between two versions of a week, in sentences with students' marked codes (caseload.plans.naming)."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from caseload.plans.models import SchoolClass, ServiceLine
from caseload.plans.naming import marked
from schedule.calendar.starts import spoken
from schedule.weeks.planning.outcome import with_uids
from schedule.weeks.versions.content import SessionContent, WeekContent
from travel.places.models import Building, Space


@dataclass(frozen=True, slots=True)
class Differences:
    """What moved, came and went; ``same`` sessions stayed as they were."""

    moved: tuple[str, ...]
    added: tuple[str, ...]
    removed: tuple[str, ...]
    same: int

    @property
    def sentences(self) -> tuple[str, ...]:
        """All of them."""
        return (*self.moved, *self.added, *self.removed)


@dataclass(frozen=True, slots=True)
class Labels:
    """Words for the ids in a content."""

    lines: dict[int, str]
    classes: dict[int, str]
    buildings: dict[int, str]
    spaces: dict[int, str]

    def what(self, session: SessionContent) -> str:
        """A session without a name: its class if many are in it, else the marked codes."""
        if session.key.startswith("class-") and session.school_class in self.classes:
            return self.classes[session.school_class]
        return " + ".join(sorted(self.lines.get(line, "?") for line in session.lines)) or "A session"

    def where(self, session: SessionContent) -> str:
        """Day, time, building and space."""
        space = f", {self.spaces[session.space]}" if session.space in self.spaces else ""
        place = self.buildings.get(session.building, "?")
        return f"{session.date:%A} {spoken((session.start, session.end))} at {place}{space}"


def labels_of(*contents: WeekContent) -> Labels:
    """Words for everything that the contents name (four queries)."""
    sessions = [one for content in contents for one in content.sessions]
    lines = {line for one in sessions for line in one.lines}
    rows = ServiceLine.objects.filter(pk__in=lines)
    named = SchoolClass.objects.filter(pk__in=_ids(sessions, lambda one: one.school_class))
    return Labels(
        {pk: marked(code) for pk, code in rows.values_list("pk", "plan__student__code")},
        dict(named.values_list("pk", "name")),
        dict(Building.objects.filter(pk__in={one.building for one in sessions}).values_list("pk", "name")),
        dict(Space.objects.filter(pk__in=_ids(sessions, lambda one: one.space)).values_list("pk", "name")),
    )


def _ids(sessions: Iterable[SessionContent], of: Callable[[SessionContent], int | None]) -> set[int]:
    return {found for one in sessions if (found := of(one)) is not None}


def differences(one: WeekContent, other: WeekContent, labels: Labels) -> Differences:
    """From ``one`` to ``other``."""
    before = {session.uid: session for session in one.sessions}
    after = {session.uid: session for session in with_uids(other.sessions, one)}
    both = [(before[uid], session) for uid, session in after.items() if uid in before]
    moved = [pair for pair in both if not _same(*pair)]
    return Differences(
        tuple(_moved(*pair, labels) for pair in moved),
        tuple(f"{labels.what(s)} added, {labels.where(s)}." for s in _only_in(after, before)),
        tuple(f"{labels.what(s)} removed, {labels.where(s)}." for s in _only_in(before, after)),
        len(both) - len(moved),
    )


def _only_in(those: Mapping[str, SessionContent], others: Mapping[str, SessionContent]) -> list[SessionContent]:
    return [session for uid, session in those.items() if uid not in others]


def _same(one: SessionContent, other: SessionContent) -> bool:
    return _facts(one) == _facts(other)


def _facts(one: SessionContent) -> tuple[object, ...]:
    return one.date, one.start, one.end, one.building, one.space, one.lines


def _moved(one: SessionContent, other: SessionContent, labels: Labels) -> str:
    before, after = labels.what(one), labels.what(other)
    if labels.where(one) == labels.where(other):
        return f"{before} is now {after}, {labels.where(other)}."
    who = before if before == after else f"{before} (now {after})"
    return f"{who} moved from {labels.where(one)} to {labels.where(other)}."
