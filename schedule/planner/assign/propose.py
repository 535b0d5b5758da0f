"""Proposals of who serves whom, and the price of a change by hand."""

from collections.abc import Callable, Iterable, Mapping
from functools import cache

from schedule.planner.assign.answer import Favoring, Proposal
from schedule.planner.assign.figures import proposal_of
from schedule.planner.assign.finding import Finder
from schedule.planner.assign.pricing import WEEKS_TRIED, Pricer, rounds_for
from schedule.planner.assign.question import Itinerant, Site, Staffing, YearService
from schedule.planner.days import Day, Place
from schedule.planner.requirements import require

USUAL = (Favoring.DRIVING, Favoring.CHANGES, Favoring.EVEN)
QUICK = 1.0
"""Seconds of work for one teacher's week where somebody waits for it."""

LITTLE = 0.01
"""Seconds of work, enough for a few rounds."""

type Tell = Callable[[str], None]


def propose(
    question: Staffing,
    *,
    effort: float = 60.0,
    seed: int = 0,
    favoring: tuple[Favoring, ...] = USUAL,
    beside: Iterable[Proposal] = (),
    tell: Tell = lambda message: None,
    stop: Callable[[], bool] = lambda: False,
) -> tuple[Proposal, ...]:
    """One proposal for each thing to favor, in that order. ``effort``: seconds of work for all of them together.

    ``tell`` hears in a sentence what is done at the moment; ``stop`` is asked between steps and ends the run with
    what there is by then. The same question, effort, seed and ``beside`` give the same proposals on any machine.

    ``beside``: what is known of the same teachers, such as who serves whom today. Who has the same services there
    keeps its week, and nothing is proposed that is worse by what it favors than one of them that breaks no rule.
    """
    finder = Finder(question, effort / max(1, len(favoring)), seed, tell, stop)
    for one in beside:
        finder.know(one)
    return tuple(finder.find(one) for one in favoring)


def price(
    question: Staffing,
    assignment: Mapping[str, str],
    *,
    beside: Proposal | None = None,
    effort: float = QUICK,
    seed: int = 0,
) -> Proposal:
    """What an assignment made or changed by hand comes to. ``effort``: seconds of work a teacher whose part
    changed.

    Teachers with the same services as in ``beside`` keep its figures; only the others' weeks are planned. Hard
    rules that it breaks are in ``broken``: it is priced all the same. Raises ``ProblemError`` for ids that the
    question doesn't know.
    """
    for service, teacher in assignment.items():
        require(question.has_service(service), "assignment", f"There is no service {service!r}.", "Leave it out.")
        require(question.has_teacher(teacher), "assignment", f"There is no teacher {teacher!r}.", "Name another.")
    pricer = Pricer(question, rounds_for(effort / WEEKS_TRIED, 1, len(assignment)), seed)
    for load in () if beside is None else beside.loads:
        pricer.known[load.teacher, frozenset(load.services)] = load
    loads = pricer.loads(assignment)
    return proposal_of(question, Favoring.BY_HAND, assignment, loads, seed=seed, work=pricer.work)


@cache
def make_assigning_ready() -> None:
    """Pass through every compiled function once."""
    days = (Day("d", 480, 600, start_place="h", end_place="h"),)
    question = Staffing(
        teachers=(Itinerant("t", "t", "h", days, frozenset({"f"})),),
        sites=(Site(Place("a"), 480, 600),),
        services=tuple(YearService(f"s{n}", "a", "f", 20, 1) for n in range(3)),
        drive_minutes={"a": {"h": 5}, "h": {"a": 5}},
        bases=(Place("h"),),
    )
    propose(question, effort=LITTLE, favoring=(Favoring.DRIVING,))
