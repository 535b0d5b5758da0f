"""Where a session could begin on one date in one building, and which single rule is in the way elsewhere.

Pure: dates and rows have become plain values before they come here (`schedule.weeks.planning`). Minutes after local
midnight throughout. Texts name codes, never students.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from schedule.calendar.bells import Bells, Period, PeriodKind
from schedule.calendar.laid_out import DayFacts, day_is_named
from schedule.calendar.spans import Span, joined, most_at_once, overlap
from schedule.calendar.words import clock_words, listed, period_words
from schedule.planner.problem import SPACE_NOT_THERE, Barred, Start

STEP = 30
"""Inside a long period a session may also begin every so many minutes after the period does."""


@dataclass(frozen=True, slots=True)
class WeeklyTime:
    """Days as `schedule.calendar.day_words` reads them (empty for every day), and a period or two clock times."""

    days: str = ""
    period: str = ""
    start: int | None = None
    end: int | None = None

    def span_on(self, facts: DayFacts) -> Span | None:
        """From when to when on that date; ``None`` on other days or where the bells lack the period."""
        if not day_is_named(self.days, facts):
            return None
        if self.start is not None and self.end is not None:
            return self.start, self.end
        wanted = self.period.strip().casefold()
        periods = facts.bells.periods if facts.bells else ()
        return next(((p.start, p.end) for p in periods if p.name.strip().casefold() == wanted), None)


@dataclass(frozen=True, slots=True)
class Bar:
    """One rule that is in the way: its code, the rule in words, whom it would help to ask."""

    code: str
    text: str
    ask: str


@dataclass(frozen=True, slots=True)
class Hold:
    """A time of one date when a student can't be taken."""

    span: Span
    bar: Bar


@dataclass(frozen=True, slots=True)
class StudentDay:
    """A student on one date: code, grade, and when the student can't be taken.

    ``lunch``: when the student's class has its own, in place of the grade's; ``None`` where it has none.
    """

    code: str
    grade: str
    holds: tuple[Hold, ...] = ()
    lunch: tuple[Span, ...] | None = None

    def lunches(self, bells: Bells) -> tuple[Span, ...]:
        """When the student has lunch under these bells."""
        if self.lunch is not None:
            return self.lunch
        return tuple((one.start, one.end) for one in bells.lunches_for(self.grade))


@dataclass(frozen=True, slots=True)
class SpaceDay:
    """A space on one date. ``free`` is ``None`` where it is free all day; ``uses`` are others' sessions in it.

    ``users``: when which teacher is in it, as far as it is a teacher. ``missing``: why it isn't there that day.
    """

    name: str
    ask: str
    fits: int = 1
    free: tuple[Span, ...] | None = None
    uses: tuple[Span, ...] = ()
    users: tuple[tuple[Span, str], ...] = ()
    missing: str = ""

    def bar(self, span: Span, bells: Bells | None = None) -> Bar | None:
        """The rule that keeps a session out of it then, or ``None``; with the bells it names periods."""
        if self.is_free(span):
            return None
        if self.missing:
            return Bar(SPACE_NOT_THERE, f"{self.name} {self.missing}", "")
        if self.free is not None and not self._open(span):
            return Bar("space_not_free", f"{self.name} is {free_words(self.free, bells)}", self.ask)
        then = [(used, who) for used, who in self.users if overlap(used, span)]
        if not then:
            return Bar("space_in_use", f"{self.name} is in use by others", self.ask)
        told = listed([f"{who} {spoken(used)}" for used, who in then])
        return Bar("space_in_use", f"{self.name} is with {told}", listed(sorted({who for _, who in then})))

    def is_free(self, span: Span) -> bool:
        """Whether a session can be held in it then."""
        return self._open(span) and most_at_once(self.uses, span) < self.fits

    def _open(self, span: Span) -> bool:
        if self.missing:
            return False
        return self.free is None or any(a <= span[0] and span[1] <= b for a, b in joined(self.free))


@dataclass(frozen=True, slots=True)
class ClassSpan:
    """The own period of a class on one date; a pushed-in service happens inside it, in its space."""

    span: Span
    space: str | None = None


@dataclass(frozen=True, slots=True)
class Need:
    """What one session asks of one date in one building.

    ``spaces`` in order of preference; empty where no space is needed. ``inside`` is set for a pushed-in service:
    the class's own periods. ``at_lunch_too``: a consultation, which asks nothing of the students. ``at``: the only
    moment that is asked about, whatever the bells say, since the students are taken then anyway.
    """

    minutes: int
    students: tuple[StudentDay, ...]
    spaces: tuple[SpaceDay, ...] = ()
    inside: tuple[ClassSpan, ...] | None = None
    at_lunch_too: bool = False
    at: int | None = None


@dataclass(frozen=True, slots=True)
class Venue:
    """Another building in which a session is held, on one date.

    Without a name it is the students' own school, whose bells say already when. ``way``: minutes that the students
    need to get there, and as many to get back. ``rings``: it has bells at all, so that nothing is held there before
    its first and after its last.
    """

    place: str
    name: str
    facts: DayFacts
    way: int = 0
    rings: bool = True
    ask: str = ""

    @property
    def is_open(self) -> bool:
        """Whether anything can be held there on the date."""
        return self.facts.open and (self.facts.bells is not None or not self.rings)

    def bars(self, span: Span) -> tuple[Bar, ...]:
        """What its hours rule out."""
        periods = self.facts.bells.periods if self.facts.bells is not None else ()
        if not periods or not self.name:
            return ()
        hours = min(one.start for one in periods), max(one.end for one in periods)
        if _is_inside(span, hours):
            return ()
        return (Bar("space_not_free", f"{self.name} has school {spoken(hours)}", self.ask),)


@dataclass(frozen=True, slots=True)
class Candidates:
    """Starts that meet every rule outside the planner, and those that miss one."""

    starts: tuple[Start, ...] = ()
    barred: tuple[Barred, ...] = ()


def find_starts(place: str, facts: DayFacts, need: Need, contract: Span, venue: Venue | None = None) -> Candidates:
    """The candidate starts of a need on a date, inside the contract day (minutes).

    With a ``venue`` the session is held there: its students leave with their own bells, and are free of what holds
    them for the session and both ways; the space and the kind of day are the venue's.
    """
    there = venue or Venue(place, "", facts)
    if not (facts.open and there.is_open) or facts.bells is None:
        return Candidates()
    starts: list[Start] = []
    barred: list[Barred] = []
    date, key, away = facts.date.isoformat(), there.facts.pattern_key, need.minutes + 2 * there.way
    for leaves, spaces, bars in _moments_of(facts.bells, replace(need, minutes=away)):
        span = (leaves + there.way, leaves + there.way + need.minutes)
        if not _is_inside(span, contract):
            continue
        free, space_bars = _spaces_then(spaces, span, there.facts.bells)
        every = [*bars, *_student_bars(need, (leaves, leaves + away)), *there.bars(span), *space_bars]
        if not every:
            starts += [Start(date, span[0], there.place, space, key) for space in free]
        elif len(every) == 1:
            one, space = every[0], _space_barred(free, spaces)
            barred.append(Barred(date, span[0], there.place, one.code, one.text, one.ask, space, need.minutes))
    return Candidates(tuple(starts), tuple(barred))


def _space_barred(free: Sequence[str | None], spaces: tuple[SpaceDay, ...] | str | None) -> str | None:
    """Where a space is in the way it is the one liked best, else a free one."""
    if free:
        return free[0]
    return spaces[0].name if isinstance(spaces, tuple) and spaces else None


def _moments_of(
    bells: Bells, need: Need
) -> Iterator[tuple[int, tuple[SpaceDay, ...] | str | None, tuple[Bar, ...]]]:
    """(minute, spaces to choose from or the class's own space, bars known already)."""
    if need.at is not None:
        yield need.at, need.spaces, ()
        return
    if need.inside is not None:
        for one in need.inside:
            for at in class_moments(one.span, need.minutes):
                yield at, one.space, ()
        return
    if need.at_lunch_too:
        for at in moments(bells, need.minutes, None):
            yield at, None, ()
        return
    yield from ((at, need.spaces, ()) for at in _common_moments(bells, need))
    yield from ((at, need.spaces, (bar,)) for at, bar in _lunch_moments(bells, need))


def _common_moments(bells: Bells, need: Need) -> list[int]:
    """Moments that the bells allow for every grade of the need."""
    common: set[int] | None = None
    for grade, lunch in dict.fromkeys((student.grade, student.lunch) for student in need.students):
        found = set(moments(bells, need.minutes, grade, lunch))
        common = found if common is None else common & found
    return sorted(common or ())


def _lunch_moments(bells: Bells, need: Need) -> Iterator[tuple[int, Bar]]:
    """Moments that would do but for the lunch of one of the students."""
    usable = set(_common_moments(bells, need))
    for at in moments(bells, need.minutes, None):
        if at in usable:
            continue
        at_lunch = [
            (student.code, lunch)
            for student in need.students
            for lunch in student.lunches(bells)
            if overlap(lunch, (at, at + need.minutes))
        ]
        if at_lunch:
            code, lunch = at_lunch[0]
            text = f"{code} has lunch {spoken(lunch)}"
            yield at, Bar("lunch", text, "the school's office, about this lunch")


@lru_cache(maxsize=4096)
def moments(
    bells: Bells, minutes: int, grade: str | None, lunch: tuple[Span, ...] | None = None
) -> tuple[int, ...]:
    """Minutes at which a session may begin by the bells.

    With the bell at one end of it (children change rooms then anyway), or every 30 minutes inside a long period. A
    session longer than every period may run on into the next one. A class's own ``lunch`` takes the place of its
    grade's.
    """
    if lunch is None:
        return _moments(bells, minutes, grade, ())
    found = _moments(bells.without_lunches(), minutes, grade, lunch)
    return tuple(at for at in found if not any(overlap(one, (at, at + minutes)) for one in lunch))


def _moments(bells: Bells, minutes: int, grade: str | None, rung: tuple[Span, ...]) -> tuple[int, ...]:
    """The same; what begins or ends at the ends of ``rung`` is with a bell, too."""
    mine = [period for period in bells.periods if period.is_for(grade)]
    fits = any(period.minutes >= minutes for period in _of_kind(mine, PeriodKind.INSTRUCTION))
    found = bells.starts(minutes, grade=grade, step=1, spanning=not fits)
    begins, ends = _bells_rung(mine)
    begins.update(end for _, end in rung)
    ends.update(start for start, _ in rung)
    return tuple(at for at in found if at in begins or at + minutes in ends or _in_step(mine, at))


def _of_kind(periods: Iterable[Period], kind: PeriodKind) -> list[Period]:
    return [period for period in periods if period.kind is kind]


def _bells_rung(periods: Sequence[Period]) -> tuple[set[int], set[int]]:
    """Minutes at which something begins, and at which something ends: lunch the other way round."""
    lunches = _of_kind(periods, PeriodKind.LUNCH)
    begins = {period.start for period in periods} | {lunch.end for lunch in lunches}
    return begins, {period.end for period in periods} | {lunch.start for lunch in lunches}


def _in_step(periods: Sequence[Period], at: int) -> bool:
    return any(p.start <= at < p.end and (at - p.start) % STEP == 0 for p in periods)


def class_moments(span: Span, minutes: int) -> tuple[int, ...]:
    """Minutes at which a pushed-in session may begin: with the class, to end with it, or in steps between."""
    latest = span[1] - minutes
    if latest < span[0]:
        return ()
    return tuple(sorted({*range(span[0], latest + 1, STEP), latest}))


def _student_bars(need: Need, span: Span) -> list[Bar]:
    if need.at_lunch_too:
        return []
    found = (hold.bar for student in need.students for hold in student.holds if overlap(hold.span, span))
    return list(dict.fromkeys(found))  # what bars several of them, such as their aide's hours, is one rule


def _spaces_then(
    spaces: tuple[SpaceDay, ...] | str | None, span: Span, bells: Bells | None
) -> tuple[list[str | None], list[Bar]]:
    """The spaces that can be used then; or, where none can, why the one liked best can't."""
    if not isinstance(spaces, tuple):
        return [spaces], []
    if not spaces:
        return [None], []
    free: list[str | None] = [space.name for space in spaces if space.is_free(span)]
    bar = None if free else spaces[0].bar(span, bells)
    return free, [bar] if bar is not None else []


def _is_inside(span: Span, within: Span) -> bool:
    return within[0] <= span[0] and span[1] <= within[1]


def _is_whole(span: Span, inside: Sequence[tuple[str, Span]]) -> bool:
    """Whether a span begins with the first and ends with the last of the periods within it."""
    held = _within(inside, *span)
    return bool(held) and span == (min(start for start, _ in held), max(end for _, end in held))


def _periods_inside(spans: Sequence[Span], periods: Iterable[Period]) -> list[tuple[str, Span]]:
    """Name and span of each period of instruction that lies within one of the spans."""
    return [
        (period.name, (period.start, period.end))
        for period in _of_kind(periods, PeriodKind.INSTRUCTION)
        if any(a <= period.start and period.end <= b for a, b in spans)
    ]


def free_words(free: Iterable[Span], bells: Bells | None) -> str:
    """When a space is free: ``free only in periods 2 and 4`` if these are whole periods, else by clock."""
    spans = joined(free)
    if not spans:
        return "free at no time on this day"
    inside = _periods_inside(spans, bells.periods) if bells is not None else []
    if inside and all(_is_whole(span, inside) for span in spans):
        return f"free only in {period_words([name for name, _ in inside])}"
    return f"free only {listed([spoken(one) for one in spans])}"


def _within(inside: Sequence[tuple[str, Span]], start: int, end: int) -> list[Span]:
    return [span for _, span in inside if start <= span[0] and span[1] <= end]


def spoken(span: Span) -> str:
    """``9:00 to 9:45``: the times of a span, for sentences."""
    return f"{clock_words(span[0])} to {clock_words(span[1])}"
