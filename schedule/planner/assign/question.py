"""What is asked before a year: who of a district's teachers serves which students and classes.

Lengths and times of day are whole minutes, as everywhere in the planner; a week is the teacher's own ``days``.
What isn't known before the year (where a class meets, who shares a gym) is left out or asked roughly: a service
may begin at any bell of its building unless its own ``starts`` are known. ``docs/assign.md`` tells the same in
prose.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from schedule.planner.days import Day, Place
from schedule.planner.problem import Start
from schedule.planner.requirements import require, require_minutes, require_unique

USUAL_STEP = 15
"""Minutes between two possible starts where a building's bells aren't known."""


@dataclass(frozen=True, slots=True)
class Site:
    """A building, with the hours in which its students can be served.

    ``bells``: minutes after midnight at which a session may begin; none: every 15 minutes from ``opens``. A session
    is over by ``closes``.
    """

    place: Place
    opens: int
    closes: int
    bells: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        require_minutes(self.opens, "opens")
        require_minutes(self.closes, "closes")
        require(self.opens < self.closes, "closes", f"{self.place.id} closes before it opens.", "Swap the two.")

    def starts(self, minutes: int) -> tuple[int, ...]:
        """When a session of so many minutes may begin."""
        bells = self.bells or tuple(range(self.opens, self.closes, USUAL_STEP))
        return tuple(bell for bell in sorted(set(bells)) if self.opens <= bell and bell + minutes <= self.closes)


@dataclass(frozen=True, slots=True)
class Itinerant:
    """A teacher who travels, or a post that isn't filled yet.

    ``days`` are the planner's own: contract day, lunch, fixed blocks, wish for preparation, where it begins and
    ends (usually ``base``). ``most_minutes``: session minutes a week at most by the contract's share; ``None``:
    what fits into the days. ``fields``: what the license allows, by the services' ``field``. ``not_places`` and
    ``not_services``: what this person can't do, by id. ``keeps``: students (ids) who stay with this teacher.
    """

    id: str
    name: str
    base: str
    days: tuple[Day, ...]
    fields: frozenset[str]
    most_minutes: int | None = None
    not_places: frozenset[str] = frozenset()
    not_services: frozenset[str] = frozenset()
    keeps: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        require(len(self.days) >= 1, "days", f"{self.name} has no days.", "Give at least one contract day.")
        require_unique([day.id for day in self.days], "days")
        require(
            self.most_minutes is None or self.most_minutes >= 0,
            "most_minutes",
            f"{self.name} has less than no minutes.",
            "Give 0 or more minutes a week, or none for what fits.",
        )

    @property
    def contract_minutes(self) -> int:
        """Minutes of all contract days, lunch and all: what shares of load are shares of."""
        return sum(day.end - day.start for day in self.days)


@dataclass(frozen=True, slots=True)
class YearService:
    """What is owed each week: ``sessions`` of ``minutes`` each in one building.

    ``students`` whom one session serves: one, or those of a class or group. ``field``: what its teacher must be
    licensed for. ``klass``: the class it belongs to, if it happens in one: all services of a class and field go
    to one teacher, as do all of a student and field. ``last``: last year's teacher (id), who may have left.
    ``starts``: where its times are known already (a class with its period), with the day ids of all teachers;
    none: any bell of its building. ``days_apart``: the least difference in days between two sessions (1: on
    different days).
    """

    id: str
    place: str
    field: str
    minutes: int
    sessions: int
    students: tuple[str, ...] = ()
    klass: str | None = None
    last: str | None = None
    starts: tuple[Start, ...] = ()
    days_apart: int = 1
    label: str = ""

    def __post_init__(self) -> None:
        require_minutes(self.minutes, "minutes", 1)
        require(self.sessions >= 1, "sessions", f"{self.id} owes no session.", "Leave it out or give 1 or more.")
        require(self.days_apart >= 0, "days_apart", "The number is negative.", "Give 0 or more days.")
        require_unique(self.students, "students")

    @property
    def week_minutes(self) -> int:
        """Minutes owed a week."""
        return self.minutes * self.sessions


@dataclass(frozen=True, slots=True)
class Staffing:
    """The whole question. ``drive_minutes[from][to]`` holds every ordered pair of sites and bases.

    ``miles`` the same in tenths of a mile, if they are wanted. ``bases``: places where a day begins or ends and
    nobody is served (a home, the district's office). Ids are unique among teachers, sites with bases, and services.
    Raises ``ProblemError``, which names field and remedy, where it contradicts itself.
    """

    teachers: tuple[Itinerant, ...]
    sites: tuple[Site, ...]
    services: tuple[YearService, ...]
    drive_minutes: Mapping[str, Mapping[str, int]]
    bases: tuple[Place, ...] = ()
    miles: Mapping[str, Mapping[str, int]] | None = None
    _teachers: dict[str, Itinerant] = field(init=False, repr=False, compare=False)
    _sites: dict[str, Site] = field(init=False, repr=False, compare=False)
    _services: dict[str, YearService] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        require_unique([one.id for one in self.teachers], "teachers")
        require_unique([one.id for one in self.places], "sites and bases")
        require_unique([one.id for one in self.services], "services")
        object.__setattr__(self, "_teachers", {one.id: one for one in self.teachers})
        object.__setattr__(self, "_sites", {one.place.id: one for one in self.sites})
        object.__setattr__(self, "_services", {one.id: one for one in self.services})
        require_whole(self)

    @property
    def places(self) -> tuple[Place, ...]:
        """Every building, then every base."""
        return (*(one.place for one in self.sites), *self.bases)

    def teacher(self, teacher_id: str) -> Itinerant:
        """The teacher of that id; ``KeyError`` if there is none."""
        return self._teachers[teacher_id]

    def has_teacher(self, teacher_id: str | None) -> bool:
        """Whether a teacher has that id."""
        return teacher_id in self._teachers

    def service(self, service_id: str) -> YearService:
        """The service of that id; ``KeyError`` if there is none."""
        return self._services[service_id]

    def has_service(self, service_id: str) -> bool:
        """Whether a service has that id."""
        return service_id in self._services

    def site(self, place_id: str) -> Site:
        """The building of that id; ``KeyError`` if there is none."""
        return self._sites[place_id]

    def has_site(self, place_id: str) -> bool:
        """Whether a building has that id."""
        return place_id in self._sites


def require_whole(question: Staffing) -> None:
    """Raise ``ProblemError`` for a place nobody knows, a missing drive, or a student whom two teachers keep."""
    known = {one.id for one in question.places}
    for service in question.services:
        require(
            question.has_site(service.place),
            "services",
            f"{service.id} is at {service.place!r}, which is no building here.",
            "Add the building.",
        )
    for teacher in question.teachers:
        ends = {teacher.base, *(place for day in teacher.days for place in (day.start_place, day.end_place))} - {
            None
        }
        require(
            ends <= known, "base", f"{teacher.name} begins or ends at an unknown place.", "Add it to the bases."
        )
    _require_drives(question, known)
    _require_one_keeper(question)


def _require_drives(question: Staffing, known: set[str]) -> None:
    for table in (question.drive_minutes, *([] if question.miles is None else [question.miles])):
        for origin in known:
            missing = known - {origin} - table.get(origin, {}).keys()
            what = f"There is no drive from {origin} to {min(missing, default='')}."
            require(not missing, "drive_minutes", what, "Give every pair of places.")


def _require_one_keeper(question: Staffing) -> None:
    keeper: dict[tuple[str, str], str] = {}
    for teacher in question.teachers:
        for key in (
            (student, licensed) for student in sorted(teacher.keeps) for licensed in sorted(teacher.fields)
        ):
            other = keeper.setdefault(key, teacher.id)
            asked = any(key[0] in one.students and key[1] == one.field for one in question.services)
            require(
                other == teacher.id or not asked,
                "keeps",
                f"{key[0]} is to stay with both {other} and {teacher.id}.",
                "Name one of them.",
            )
