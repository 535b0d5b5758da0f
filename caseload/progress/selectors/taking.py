"""What the page shows on which data are taken: students side by side, each with the goals that hold on a day."""

import datetime as dt
import uuid
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse

from accounts.models import Person
from caseload.plans.models import Student
from caseload.plans.names import student_names
from caseload.progress.measures import Measure
from caseload.progress.models import DataPoint, StudentGoal
from caseload.progress.selectors.goals import (
    goal_figure,
    goal_rules_on,
    goals_of,
    last_points,
    last_taken,
    points_of_day,
)

ONE_BY_ONE = frozenset({Measure.COUNT.value, Measure.LAPS.value, Measure.STEPS.value})


@dataclass(frozen=True, slots=True)
class PointTaken:
    """A point of the day; whether it is the viewer's to take back."""

    point: DataPoint
    words: str
    own: bool


@dataclass(frozen=True, slots=True)
class GoalTaking:
    """One goal with what takes data on it. `client_id` is for a plain form; a script makes its own.

    `text` is what the plan says, or only the goal's number where the page will lie readable on a phone.
    `kind`: trials, tally (one tap counts one), timer, levels, or figure.
    """

    goal: StudentGoal
    text: str
    kind: str
    client_id: uuid.UUID
    last: str
    last_day: dt.date | None
    waits: bool
    today: tuple[PointTaken, ...]

    @property
    def levels(self) -> list[tuple[int, str]]:
        """Levels to choose from, the most independent (or highest) first: it is nearest to the thumb's rest."""
        told = self.text == self.goal.text
        return [(number, words if told else "") for number, words in enumerate(self.goal.level_names, 1)][::-1]


@dataclass(frozen=True, slots=True)
class StudentTaking:
    """A student with the goals that hold on the day."""

    student_id: int
    name: str
    goals: tuple[GoalTaking, ...]

    @property
    def waiting(self) -> int:
        """Goals without data for longer than the district's days."""
        return sum(one.waits for one in self.goals)


@dataclass(frozen=True, slots=True)
class Taking:
    """Everybody on whom data can be taken now."""

    day: dt.date
    session_uid: uuid.UUID | None
    students: tuple[StudentTaking, ...]
    unread: int = 0

    @property
    def goals(self) -> int:
        """How many goals there are."""
        return sum(len(one.goals) for one in self.students)

    @property
    def waiting(self) -> int:
        """How many of them have had no data for longer than the district's days."""
        return sum(one.waiting for one in self.students)

    @property
    def address(self) -> str:
        """Of the page on which these students' data are taken: ids only."""
        return take_address([one.student_id for one in self.students], self.day, self.session_uid)


def take_address(students: Iterable[int], day: dt.date, session: uuid.UUID | str | None = None) -> str:
    """The page on which data of these students are taken: ids only."""
    told: list[tuple[str, object]] = [("student", one) for one in students]
    told += [("day", day.isoformat())]
    told += [("session", session)] if session else []
    return f"{reverse('data_take')}?{urlencode(told)}"


@dataclass(frozen=True, slots=True)
class GoalWaiting:
    """A goal without data lately, for a viewer who may see whose it is."""

    goal_id: int
    name: str
    text: str


@dataclass(frozen=True, slots=True)
class SessionGoals:
    """The goals of one session's students on a sheet: where their data are taken, and which wait for some."""

    address: str
    count: int
    waiting: tuple[GoalWaiting, ...]


def goals_on_sheet(
    viewer: Person, sessions: Mapping[str, Mapping[int, str]], *, day: dt.date
) -> dict[str, SessionGoals]:
    """By a session's uid the goals of its students, where there are any and the viewer may take data on them.

    `sessions` has the students' names by id, of those whom the viewer may see. One query where there is no goal,
    else three.
    """
    if not viewer.has_perm("data.take"):
        return {}
    ready = _measured({student for students in sessions.values() for student in students}, day)
    waits = _waiting_among([one for each in ready.values() for one in each], viewer, day)
    told = _Told(viewer, ready)
    found = {uid: _on_session(uid, students, told, waits, day) for uid, students in sessions.items()}
    return {uid: one for uid, one in found.items() if one.count}


def _measured(students: Collection[int], day: dt.date) -> dict[int, list[StudentGoal]]:
    """The goals that hold on a day and that somebody has said how to measure."""
    return _with_measure(goals_of(students, day=day) if students else {})


def _with_measure(goals: Mapping[int, Iterable[StudentGoal]]) -> dict[int, list[StudentGoal]]:
    return {student: [one for one in each if one.measure] for student, each in goals.items()}


def _waiting_among(goals: Collection[StudentGoal], viewer: Person, day: dt.date) -> set[int]:
    """Those without data for longer than the district's days."""
    if not goals:
        return set()
    last, days = last_taken([one.pk for one in goals]), goal_rules_on(viewer.district, day).days_without_data
    return {one.pk for one in goals if (day - last.get(one.pk, one.start)).days > days}


class _Told:
    """Goals by student, and in which words this viewer's page has them."""

    def __init__(self, viewer: Person, goals: Mapping[int, list[StudentGoal]]) -> None:
        self.goals = goals
        self.by_number = {
            goal.pk: f"Goal {number}" if viewer.reads_initials else goal.text
            for each in goals.values()
            for number, goal in enumerate(each, 1)
        }

    def words(self, goal: StudentGoal) -> str:
        """What the plan says, or the goal's number among its student's."""
        return self.by_number[goal.pk]


def _on_session(uid: str, students: Mapping[int, str], told: _Told, waits: set[int], day: dt.date) -> SessionGoals:
    there = [one for one in students if told.goals.get(one)]
    own = [(students[student], goal) for student in there for goal in told.goals[student]]
    waiting = tuple(GoalWaiting(goal.pk, name, told.words(goal)) for name, goal in own if goal.pk in waits)
    return SessionGoals(take_address(there, day, uid), len(own), waiting)


def kind_of(goal: StudentGoal) -> str:
    """Which kind of control takes data on a goal."""
    if goal.measure in ONE_BY_ONE:
        return "tally"
    if goal.level_names:
        return "levels"
    return {Measure.TRIALS.value: "trials", Measure.SECONDS.value: "timer"}.get(goal.measure, "figure")


def taking_of(
    viewer: Person, students: Collection[int], *, day: dt.date, session_uid: uuid.UUID | None = None
) -> Taking:
    """The goals that hold on a day, of those among `students` whom the viewer may see, in the order given.

    Goals that wait for an answer how they are measured are only counted. The number of queries is fixed.
    """
    seen = set(Student.objects.visible_to(viewer).filter(pk__in=students).values_list("pk", flat=True))
    goals = goals_of(seen, day=day)
    held = [one for each in goals.values() for one in each]
    measured = _with_measure(goals)
    rows = _Rows(viewer, measured, day)
    names = student_names(viewer).full
    found = (
        StudentTaking(student, names.get(student, ""), rows.takings(measured[student]))
        for student in dict.fromkeys(students)
        if student in goals
    )
    ready = tuple(one for one in found if one.goals)
    return Taking(day, session_uid, ready, sum(not one.measure for one in held))


class _Rows:
    """What was taken before, read once for all goals."""

    def __init__(self, viewer: Person, measured: Mapping[int, list[StudentGoal]], day: dt.date) -> None:
        goals = [one.pk for each in measured.values() for one in each]
        self.day = day
        self.told = _Told(viewer, measured)
        self.kept_back = viewer.reads_initials
        self.last = last_points(goals)
        self.last_day = last_taken(goals)
        self.today = list(points_of_day(goals, day))
        self.days = goal_rules_on(viewer.district, day).days_without_data
        self.viewer = viewer
        students = measured if viewer.mates else ()
        changeable = (
            Student.objects.changeable_by(viewer).filter(pk__in=students) if students else Student.objects.none()
        )
        self.mates = set(students) - set(changeable.values_list("pk", flat=True))

    def _is_own(self, point: DataPoint) -> bool:
        """Of a mate's student a viewer takes back what they took."""
        return point.taken_by_id == self.viewer.pk or point.goal.student_id not in self.mates

    def takings(self, goals: Iterable[StudentGoal]) -> tuple[GoalTaking, ...]:
        """What takes data on each."""
        return tuple(map(self._taking, goals))

    def _taking(self, goal: StudentGoal) -> GoalTaking:
        point = self.last.get(goal.pk)
        last_day = self.last_day.get(goal.pk)
        return GoalTaking(
            goal,
            self.told.words(goal),
            kind_of(goal),
            uuid.uuid4(),
            goal_figure(goal, point.value, point.tried) if point is not None and not self.kept_back else "",
            last_day,
            (self.day - (last_day or goal.start)).days > self.days,
            tuple(
                PointTaken(one, goal_figure(goal, one.value, one.tried), self._is_own(one))
                for one in self.today
                if one.goal_id == goal.pk
            ),
        )
