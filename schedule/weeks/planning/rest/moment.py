"""A week cut in two at a moment: what was, which stays to the minute, and the rest, which is planned again.

Pure. Times are minutes after local midnight; buildings are known by their ids.
"""

import datetime as dt
from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal

from schedule.planner.days import Block, Day, Lunch
from schedule.weeks.planning.quotas import Owed
from schedule.weeks.versions.content import ItemContent, SessionContent, UnplacedContent, WeekContent

LUNCH, PREPARATION = "lunch", "preparation"
HELD = "A session that is held in part"


@dataclass(frozen=True, slots=True)
class Rest:
    """From which minute of a date on something new may begin, and where the teacher is then.

    ``begins`` is 0 and ``place`` nothing where the date is planned whole. ``kept`` stays as it is; ``left`` is what
    the week held from then on, what had no place included. ``busy``: of what stays, what is held in part, as date,
    from, to and building.
    """

    date: dt.date
    begins: int = 0
    place: int | None = None
    kept: WeekContent = field(default_factory=WeekContent)
    left: WeekContent = field(default_factory=WeekContent)
    busy: tuple[tuple[dt.date, int, int, int], ...] = ()

    def spans(self, contract: Mapping[dt.date, tuple[int, int]]) -> dict[dt.date, tuple[int, int]]:
        """The contract days of the rest, the first of them from where it begins."""
        found = {date: span for date, span in contract.items() if date > self.date}
        first, last = contract.get(self.date, (0, 0))
        if max(first, self.begins) < last:
            found[self.date] = max(first, self.begins), last
        return dict(sorted(found.items()))

    def still_owed(self, line: int, owed: Owed) -> Owed:
        """What the rest owes of what a week owes: never less than the week in force holds from then on.

        On a day under way no more than that: what had no place in the week doesn't come into today.
        """
        held = sum(line in one.lines for one in self.kept.sessions if not one.makes_up)
        stands = sum(line in one.lines for one in self.left.sessions if not one.makes_up)
        stands += sum(one.sessions for one in self.left.unplaced if one.line == line)
        return replace(owed, sessions=stands if self.begins else max(owed.sessions - held, stands))

    def holding(self, held: Mapping[str, tuple[int, int]]) -> "Rest":
        """With the sessions that are held in part as they are: their minutes are busy, and they aren't placed."""
        planned = {one.uid: (one.start, one.end) for one in self.left.sessions}
        uids = {uid for uid, span in planned.items() if held.get(uid, span) != span}
        short = [one for one in self.left.sessions if one.uid in uids]
        left = tuple(one for one in self.left.sessions if one.uid not in uids)
        return replace(
            self,
            kept=replace(self.kept, sessions=(*self.kept.sessions, *short)),
            left=replace(self.left, sessions=left),
            busy=tuple((one.date, *held[one.uid], one.building) for one in short),
        )

    def day(self, day: Day, places: Mapping[int, str]) -> Day:
        """A day of the planner, begun where the rest does, without what is held of it anyway."""
        begun = self._begun(day, places.get(self.place or 0))
        held = [
            Block(start, end, places.get(building), HELD)
            for date, start, end, building in self.busy
            if date.isoformat() == day.id and all(end <= one.start or one.end <= start for one in begun.blocks)
        ]
        return replace(begun, blocks=tuple(sorted((*begun.blocks, *held), key=lambda one: one.start)))

    def _begun(self, day: Day, place: str | None) -> Day:
        if day.id != self.date.isoformat() or not self.begins:
            return day
        start = max(day.start, self.begins)
        blocks = tuple(replace(one, start=max(one.start, start)) for one in day.blocks if one.end > start)
        return replace(
            day,
            start=start,
            start_place=place or day.start_place,
            blocks=blocks,
            lunch=self._lunch(day.lunch, start, day.end),
            preparation_minutes=max(0, day.preparation_minutes - self.prepared),
        )

    def _lunch(self, lunch: Lunch | None, start: int, end: int) -> Lunch | None:
        """Lunch, where it wasn't had and there is still room for it."""
        if lunch is None or any(one.kind == LUNCH for one in self._of_today()):
            return None
        return lunch if max(lunch.earliest, start) + lunch.minutes <= min(lunch.latest_end, end) else None

    @property
    def prepared(self) -> int:
        """Minutes of preparation that the day has had."""
        return sum(one.end - one.start for one in self._of_today() if one.kind == PREPARATION)

    def _of_today(self) -> Iterable[ItemContent]:
        return (one for one in self.kept.items if one.date == self.date)

    def without_kept(self, content: WeekContent) -> WeekContent:
        """What a week holds of the rest."""
        known = {one.uid for one in self.kept.sessions}
        sessions = tuple(one for one in content.sessions if one.uid not in known)
        return replace(content, sessions=sessions, items=tuple(_without(content.items, self.kept.items)))

    def joined(self, planned: WeekContent, out: Collection[SessionContent] = ()) -> WeekContent:
        """The whole week around a rest; ``out`` stay where they stood, to fall out there."""
        sessions = sorted(
            (*self.kept.sessions, *planned.sessions, *out), key=lambda one: (one.date, one.start, one.uid)
        )
        own = (one for one in planned.items if one.title != HELD)
        items = sorted((*self.kept.items, *own), key=lambda one: (one.date, one.start, one.end))
        unplaced = (*self.kept.unplaced, *less_out(planned.unplaced, out))
        placed = sum(len(one.lines) * (one.end - one.start) for one in sessions)
        figures = {
            **(planned.figures or {}),
            "sessions": len(sessions),
            "minutes_placed": placed,
            "minutes_owed": placed + sum(one.minutes for one in unplaced),
            "miles": str(sum((Decimal(one.miles) for one in items), Decimal(0))),
        }
        return WeekContent(tuple(sessions), tuple(items), unplaced, figures)


def _without(items: Iterable[ItemContent], known: Iterable[ItemContent]) -> Iterable[ItemContent]:
    left = Counter(known)
    for one in items:
        if left[one] > 0:
            left[one] -= 1
        else:
            yield one


def cut_at(
    content: WeekContent, date: dt.date, minute: int, stays: Collection[str] = ()
) -> tuple[WeekContent, WeekContent]:
    """What had begun by a moment, and the rest; sessions of ``stays`` are with the first wherever they are.

    Preparation that is under way ends then.
    """
    moment = (date, minute)
    begun = {one.uid for one in content.sessions if _begins(one) < moment} | set(stays)
    had = tuple(one for one in content.items if _begins(one) < moment)
    kept = WeekContent(
        tuple(one for one in content.sessions if one.uid in begun), tuple(_until(one, moment) for one in had)
    )
    items = tuple(_without(content.items, had))
    return kept, replace(content, sessions=_other(content.sessions, begun), items=items)


def _other(sessions: Iterable[SessionContent], uids: Collection[str]) -> tuple[SessionContent, ...]:
    return tuple(one for one in sessions if one.uid not in uids)


def _begins(one: SessionContent | ItemContent) -> tuple[dt.date, int]:
    return one.date, one.start


def _until(one: ItemContent, moment: tuple[dt.date, int]) -> ItemContent:
    ends = one.kind == PREPARATION and one.date == moment[0]
    return replace(one, end=min(one.end, moment[1])) if ends else one


def less_out(unplaced: Iterable[UnplacedContent], out: Iterable[SessionContent]) -> tuple[UnplacedContent, ...]:
    """What has no place, without sessions that stay where they stood."""
    counted = Counter(line for one in out if not one.makes_up for line in one.lines)
    found = []
    for one in unplaced:
        each = one.minutes // max(1, one.sessions)
        count = one.sessions - min(one.sessions, counted[one.line])
        if count:
            found.append(replace(one, sessions=count, minutes=count * each))
    return tuple(found)
