"""Reads of runs and proposals for pages and the API."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import ceil

from accounts.models import Person
from caseload.plans.names import student_names
from caseload.plans.naming import StudentNames
from schedule.assigning.asking import NEW
from schedule.assigning.bundled import Movable, with_whom
from schedule.assigning.models import AssigningProposal, AssigningRun
from schedule.assigning.selectors.standing import ProposalStanding
from schedule.planner.assign.answer import Favoring, Proposal, YearLoad
from schedule.planner.assign.record import from_record
from travel.places.models import Building


@dataclass(frozen=True, slots=True)
class TeacherFigures:
    """One teacher in a proposal; minutes and miles a week.

    ``load``: sessions and driving in percent of the contract's hours. ``teacher_id`` is empty for a post that
    nobody holds yet.
    """

    teacher_id: str
    teacher: str
    fits: int
    does_not_fit: int
    driving: int
    miles: Decimal
    load: int
    students: int
    buildings: int


@dataclass(frozen=True, slots=True)
class ProposalFigures:
    """A proposal in figures, minutes and miles a week over all teachers; ``more_*``: than as today.

    ``nobodys``: minutes that no teacher has, part of ``does_not_fit``. ``changes``: students who get another
    teacher. ``least_load`` and ``most_load`` in percent. ``driving_at_least``: with as many
    minutes that fit nobody could share them out with less, 0 where that isn't known. ``broken``: rules that a
    change by hand breaks, a sentence each.
    """

    proposal_id: int
    title: str
    is_today: bool
    fits: int
    does_not_fit: int
    nobodys: int
    driving: int
    miles: Decimal
    least_load: int
    most_load: int
    changes: int
    most_buildings: int
    most_teachers: int
    teachers_a_building: float
    more_does_not_fit: int
    more_driving: int
    more_miles: Decimal
    driving_at_least: int
    moves: int
    revision: int
    taken_at: dt.datetime | None
    broken: tuple[str, ...]
    teachers: tuple[TeacherFigures, ...]


@dataclass(frozen=True, slots=True)
class AssigningView:
    """How far a run is, and its proposals, as today first. ``notes``: what was counted roughly, and why."""

    run_id: int
    question: str
    words: str
    first_day: dt.date
    last_day: dt.date | None
    week_counted: dt.date | None
    state: str
    is_over: bool
    stop_asked: bool
    message: str
    error: str
    notes: tuple[str, ...]
    proposals: tuple[ProposalFigures, ...]


@dataclass(frozen=True, slots=True)
class StudentInProposal:
    """A student, and from whom they come if that isn't the same teacher."""

    student_id: int
    name: str
    comes_from: str


@dataclass(frozen=True, slots=True)
class UnitInProposal:
    """What goes to one teacher together. ``words``: sessions and minutes of a week."""

    key: str
    students: tuple[StudentInProposal, ...]
    minutes: int
    words: str


@dataclass(frozen=True, slots=True)
class BuildingInProposal:
    """A teacher's students of one building."""

    building: str
    minutes: int
    students: int
    units: tuple[UnitInProposal, ...]


@dataclass(frozen=True, slots=True)
class TeacherInProposal:
    """A teacher with everybody whom the proposal gives them, building by building."""

    key: str
    figures: TeacherFigures
    buildings: tuple[BuildingInProposal, ...]


@dataclass(frozen=True, slots=True)
class ProposalView:
    """A proposal by teacher.

    ``nobodys``: whom no teacher has; ``nobody_because``: why by the rules nobody may, where that is why.
    ``may_take_over``: nothing stands in the way.
    """

    run_id: int
    words: str
    first_day: dt.date
    last_day: dt.date | None
    figures: ProposalFigures
    may_change: bool
    may_take_over: bool
    nobodys: tuple[BuildingInProposal, ...]
    nobody_because: tuple[str, ...]
    teachers: tuple[TeacherInProposal, ...]


def assigning_view(viewer: Person, row: AssigningRun) -> AssigningView:
    """What a page shows of a run."""
    names, job = student_names(viewer), row.job
    rows = list(row.proposals.order_by("position"))
    called = teachers_called(row, rows)
    today = from_record(rows[0].now["record"]) if rows else None
    return AssigningView(
        run_id=row.pk,
        question=row.question,
        words=row.words,
        first_day=row.first_day,
        last_day=row.last_day,
        week_counted=dt.date.fromisoformat(row.asked["monday"]) if row.asked.get("monday") else None,
        state=job.state,
        is_over=job.is_over,
        stop_asked=job.stop_asked,
        message=names.told(str(job.progress.get("message", ""))),
        error=names.told(job.error),
        notes=names.all_told(row.asked.get("notes", [])),
        proposals=tuple(_figures(one, today, called, names) for one in rows),
    )


def teachers_called(row: AssigningRun, proposals: Iterable[AssigningProposal]) -> dict[str, str]:
    """Names by the planner's ids, with that of a new post."""
    has_post = any(one.base_id is not None for one in proposals)
    return {str(one.pk): str(one) for one in row.teachers.all()} | ({NEW: "New post"} if has_post else {})


def _figures(
    row: AssigningProposal, today: Proposal | None, called: Mapping[str, str], names: StudentNames
) -> ProposalFigures:
    now = from_record(row.now["record"])
    sums, loads = now.figures, [_percent(one) for one in now.loads]
    before = today.figures if today is not None else sums
    bound = ceil(now.bound) if now.favoring is Favoring.DRIVING else 0
    return ProposalFigures(
        proposal_id=row.pk,
        title=row.title,
        is_today=row.is_today,
        fits=sums.placed,
        does_not_fit=sums.unplaced,
        nobodys=sums.nobody,
        driving=sums.driving,
        miles=_miles(sums.miles),
        least_load=min(loads, default=0),
        most_load=max(loads, default=0),
        changes=row.now["changes"],
        most_buildings=sums.most_places,
        most_teachers=sums.most_teachers,
        teachers_a_building=round(sums.teachers_a_place, 1),
        more_does_not_fit=sums.unplaced - before.unplaced,
        more_driving=sums.driving - before.driving,
        more_miles=_miles(sums.miles - before.miles),
        driving_at_least=bound,
        moves=len(row.moves),
        revision=row.revision,
        taken_at=row.taken_at,
        broken=names.all_told(now.broken),
        teachers=tuple(_teacher(one, called) for one in now.loads),
    )


def _miles(tenths: int) -> Decimal:
    return Decimal(tenths) / 10


def _percent(load: YearLoad) -> int:
    return round(100 * load.share)


def _teacher(load: YearLoad, called: Mapping[str, str]) -> TeacherFigures:
    return TeacherFigures(
        teacher_id="" if load.teacher == NEW else load.teacher,
        teacher=called.get(load.teacher, "A teacher who was taken out"),
        fits=load.placed,
        does_not_fit=load.unplaced,
        driving=load.driving,
        miles=_miles(load.miles),
        load=_percent(load),
        students=len(load.students),
        buildings=len(load.places),
    )


# ---- teacher by teacher ---------------------------------------------------------------------------------------


def proposal_view(viewer: Person, row: AssigningProposal, today: dt.date) -> ProposalView:
    """A proposal with everybody in it, by the names that the viewer may see."""
    standing, names = ProposalStanding(row), student_names(viewer)
    called = teachers_called(row.run, [row])
    first = row.run.proposals.filter(position=0).first()
    figures = _figures(row, from_record(first.now["record"]) if first is not None else None, called, names)
    by_teacher: dict[str, list[Movable]] = {one.id: [] for one in standing.question.teachers}
    by_teacher[""] = []
    for one in standing.movables.values():
        by_teacher.setdefault(with_whom(one, standing.now.assignment, standing.riders_now), []).append(one)
    placed = _Words(names, called, dict(_buildings(row)))
    return ProposalView(
        run_id=row.run_id,
        words=row.run.words,
        first_day=row.run.first_day,
        last_day=row.run.last_day,
        figures=figures,
        may_change=not row.is_today and not row.is_taken,
        may_take_over=_may_take_over(row, standing, today),
        nobodys=placed.buildings(by_teacher[""], ""),
        nobody_because=names.all_told(standing.why_nobody),
        teachers=tuple(
            TeacherInProposal(
                load.teacher, _teacher(load, called), placed.buildings(by_teacher[load.teacher], load.teacher)
            )
            for load in standing.now.loads
        ),
    )


def _may_take_over(row: AssigningProposal, standing: ProposalStanding, today: dt.date) -> bool:
    out = standing.has_new_post or standing.is_of_a_move
    barred = (row.is_today, row.is_taken, out, bool(standing.now.broken))
    return not any(barred) and row.run.first_day > today


def _buildings(row: AssigningProposal) -> Iterable[tuple[str, str]]:
    return Building.objects.filter(district=row.district).values_list("code", "name")


@dataclass(frozen=True, slots=True)
class _Words:
    """How students, teachers and buildings are called."""

    names: StudentNames
    called: Mapping[str, str]
    places: Mapping[str, str]

    def buildings(self, units: Iterable[Movable], teacher: str) -> tuple[BuildingInProposal, ...]:
        """By name, each with its units by their students' names."""
        by_place: dict[str, list[Movable]] = {}
        for one in units:
            by_place.setdefault(one.place, []).append(one)
        ordered = sorted(by_place.items(), key=lambda pair: self.places.get(pair[0], pair[0]))
        return tuple(self._building(place, several, teacher) for place, several in ordered)

    def _building(self, place: str, several: Sequence[Movable], teacher: str) -> BuildingInProposal:
        units = sorted((self._unit(one, teacher) for one in several), key=lambda one: one.students[0].name)
        students = {student for one in several for student in one.students}
        minutes = sum(one.minutes for one in several)
        return BuildingInProposal(self.places.get(place, place), minutes, len(students), tuple(units))

    def _unit(self, one: Movable, teacher: str) -> UnitInProposal:
        students = [self._student(pk, own, teacher) for pk, own in one.from_whom.items()]
        lengths = [f"{count} × {minutes} min" for _, count, minutes in one.sessions]  # noqa: RUF001 -- as pages write it
        words = ", ".join(dict.fromkeys(lengths)) or "no minutes that week"
        return UnitInProposal(one.key, tuple(sorted(students, key=lambda each: each.name)), one.minutes, words)

    def _student(self, pk: str, own: str, teacher: str) -> StudentInProposal:
        name = self.names.listed.get(int(pk), "A student who was taken out")
        return StudentInProposal(int(pk), name, self.called.get(own, "") if own != teacher else "")
