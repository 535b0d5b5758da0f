"""A proposal's figures and cost, added up from what each teacher's week says."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from schedule.planner.assign.answer import WORTHS, Favoring, Proposal, StaffingFigures, Worth, YearLoad
from schedule.planner.assign.bundles import Bundle, bundles, reasons_against
from schedule.planner.assign.question import Staffing
from schedule.planner.result import Ended


def proposal_of(
    question: Staffing,
    favoring: Favoring,
    assignment: Mapping[str, str],
    loads: tuple[YearLoad, ...],
    *,
    bound: float = 0.0,
    ended: Ended = Ended.EFFORT,
    seed: int = 0,
    work: float = 0.0,
) -> Proposal:
    """The proposal with its figures; what it breaks is found here, whoever made it."""
    parts = bundles(question)
    figures = staffing_figures(question, parts, assignment, loads)
    return Proposal(
        favoring=favoring,
        assignment=dict(assignment),
        loads=loads,
        figures=figures,
        cost=cost_of(figures, loads, WORTHS[favoring]),
        bound=bound,
        ended=ended,
        broken=tuple(broken_rules(question, parts, assignment)),
        seed=seed,
        work=work,
    )


def cost_of(figures: StaffingFigures, loads: Sequence[YearLoad], worth: Worth) -> float:
    """Driving and what is counted beside it; less is better. Unplaced minutes are compared before."""
    return (
        worth.driving * figures.driving
        + worth.change * (figures.could_keep - figures.kept)
        + worth.uneven * unevenness(loads)
        + worth.meeting * figures.meetings
    )


def unevenness(loads: Sequence[YearLoad]) -> float:
    """Minutes by which loads lie off the even share of all work, each teacher's by contract, added up."""
    contract = sum(one.contract for one in loads)
    done = sum(one.placed + one.driving for one in loads)
    return sum(abs(one.placed + one.driving - done * one.contract / contract) for one in loads) if contract else 0.0


def staffing_figures(
    question: Staffing, parts: Iterable[Bundle], assignment: Mapping[str, str], loads: Sequence[YearLoad]
) -> StaffingFigures:
    """Everything that is counted over all teachers."""
    nobody = sum(one.week_minutes for one in question.services if one.id not in assignment)
    places = [place for one in loads for place in one.places]
    kept, could_keep = _continuity(parts, assignment)
    return StaffingFigures(
        owed=sum(one.week_minutes for one in question.services),
        placed=_sum(loads, "placed"),
        unplaced=nobody + _sum(loads, "unplaced"),
        nobody=nobody,
        driving=_sum(loads, "driving"),
        short=_sum(loads, "short"),
        miles=_sum(loads, "miles"),
        kept=kept,
        could_keep=could_keep,
        meetings=len(places),
        served_places=len(set(places)),
        most_teachers=max(Counter(places).values(), default=0),
        most_places=max((len(one.places) for one in loads), default=0),
    )


def _sum(loads: Sequence[YearLoad], figure: str) -> int:
    return sum(getattr(one, figure) for one in loads)


def _continuity(parts: Iterable[Bundle], assignment: Mapping[str, str]) -> tuple[int, int]:
    kept, could_keep = 0, 0
    for part in parts:
        could_keep += part.could_keep
        for student, before in part.last.items():
            now = {assignment.get(one.id) for one in part.services if student in one.students}
            kept += now == before
    return kept, could_keep


def broken_rules(question: Staffing, parts: Iterable[Bundle], assignment: Mapping[str, str]) -> list[str]:
    """Hard rules that an assignment breaks, a sentence each."""
    found: list[str] = []
    for part in parts:
        given = {assignment[one.id] for one in part.services if one.id in assignment}
        for teacher in sorted(given):
            mine = tuple(one for one in part.services if assignment.get(one.id) == teacher)
            found.extend(reasons_against(question.teacher(teacher), mine))
        if len(given) > 1:
            names = " and ".join(question.teacher(one).name for one in sorted(given))
            found.append(f"{names} have services of one student or class in one field.")
        found.extend(_not_kept(question, part, given))
    return [*found, *_over_contract(question, assignment)]


def _not_kept(question: Staffing, part: Bundle, given: set[str]) -> list[str]:
    field = part.services[0].field
    keepers = [one for one in question.teachers if one.keeps & part.students and field in one.fields]
    return [
        f"{keeper.name} is to keep a student who goes to {question.teacher(other).name}."
        for keeper in keepers
        for other in sorted(given - {keeper.id})
    ]


def _over_contract(question: Staffing, assignment: Mapping[str, str]) -> list[str]:
    minutes = dict.fromkeys((one.id for one in question.teachers), 0)
    for service, teacher in assignment.items():
        minutes[teacher] += question.service(service).week_minutes
    return [
        f"{one.name} has {minutes[one.id]} minutes a week, {minutes[one.id] - one.most_minutes} over the contract."
        for one in question.teachers
        if one.most_minutes is not None and minutes[one.id] > one.most_minutes
    ]
