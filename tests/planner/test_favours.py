"""Favours come true: granted by hand and solved again, each gives exactly what was said."""

from dataclasses import replace

from schedule.planner.favours import Favours, MovableClass, Priced, favours_of, find_favours, granted, or_known
from schedule.planner.problem import Barred, Day, Goal, Pin, Place, Problem, Service, Start
from schedule.planner.result import Figures
from schedule.planner.solve import solve
from tests.planner.brute import best_figures
from tests.planner.builders import at, random_tiny_week, service, tiny

OFFICE = "the office of South"
DRIVES = (Goal.UNPLACED, Goal.WISHES, Goal.DRIVING)


def figures(problem: Problem) -> Figures:
    """The best there is, by the planner."""
    result = solve(problem, workers=1)
    assert result.figures is not None
    return result.figures


def gym() -> Problem:
    """Two classes at South could use the gym at 11:00 on Monday, if it were free; one of them has no other time."""
    y = Barred("mon", 660, "b", "space_in_use", "the gym is in use by grade 3", OFFICE, "the gym", 30)
    held = Barred("mon", 600, "b", "student_held", "S02 can't be taken 10:00 to 10:40 (reading)", "the teacher")
    return tiny(
        service("x", at(560), label="Class 1"),
        service("y", at(570, "b"), label="Class 2", barred=(y, held)),
        service("z", at(480, "b"), label="Class 3", barred=(y,)),
        pins=(Pin("x", "mon", 560),),
    )


def test_a_favour_that_makes_everything_fit_is_said_so() -> None:
    found = find_favours(gym(), workers=1)
    best = found.priced[0]
    assert best.text.startswith("If the gym at South School were free at 11:00 on Monday: everything fits")
    assert (best.minutes_placed, best.everything_fits, best.proved, best.favour.ask) == (30, True, True, OFFICE)


def test_one_moment_of_a_space_is_one_favour_for_every_service() -> None:
    favours = favours_of(gym(), ())
    assert [(one.code, len(one.opened)) for one in favours] == [("space_in_use", 2), ("student_held", 1)]


def test_a_day_of_another_class_saves_driving() -> None:
    """Two schools, a class in each; if room 4 met on Monday, Tuesday's way to South, 10 minutes, were saved."""
    days = (Day("mon", 480, 720, "Monday", "a", "b"), Day("tue", 480, 720, "Tuesday", "a", "a"))
    problem = tiny(service("p", at(600, "b"), label="S01"), service("q", at(540, "b", "tue")), days=days)
    room4 = MovableClass("the class of room 4", ("q",), ("mon", "tue"), "the teacher of room 4")
    best = find_favours(problem, classes=(room4,), workers=1).priced[0]
    assert (
        best.text == "If the class of room 4 met on Monday instead of Tuesday: 20 minutes of driving less a week."
    )
    assert (best.favour.ask, best.drive_saved, best.minutes_placed) == ("the teacher of room 4", 20, 0)


def test_the_moment_is_named_as_the_school_names_it() -> None:
    found = favours_of(gym(), (), lambda day, place, minute: f"in period {minute // 60 - 7}")
    assert found[0].what == "If the gym at South School were free in period 4 on Monday"


def test_each_place_has_its_best_favour() -> None:
    found = find_favours(gym(), workers=1)
    assert [one.favour.place for one in found.best_of_places()] == ["b"]


def test_limits_are_said() -> None:
    found = find_favours(gym(), workers=1, most_solved=1)
    assert (found.possible, found.tried, found.stopped) == (2, 1, True)
    assert find_favours(gym(), workers=1, stop=lambda: True) == Favours(None, (), 2, 0, True)


def barred_week(seed: int) -> Problem:
    """A tiny week in which one rule bars the later starts of each service."""
    problem = random_tiny_week(seed)

    def barred(one: Service) -> Service:
        kept, gone = one.starts[:1], one.starts[1:]
        bars = tuple(
            Barred(s.day, s.at, s.place, "space_in_use", "in use", s.place, f"gym {s.place}", s.minutes)
            for s in gone
        )
        return replace(one, starts=kept, barred=bars)

    services = tuple(barred(one) for one in problem.services)
    return replace(problem, services=services, groups=(), pins=(), current=None, goals=DRIVES)


def exact_gain(problem: Problem, one: Priced) -> tuple[int, ...]:
    """The difference by trying every plan with and without the starts opened by hand."""
    opened: dict[str, list[Start]] = {}
    for unit, start in one.favour.opened:
        opened.setdefault(unit, []).append(start)
    services = tuple(replace(s, starts=(*s.starts, *opened.get(s.id, ()))) for s in problem.services)
    before, after = best_figures(problem), best_figures(replace(problem, services=services))
    assert before is not None
    assert after is not None
    return tuple(a - b for a, b in zip(before, after, strict=True))


def test_favours_are_true_by_brute_force() -> None:
    judged = 0
    for seed in range(60):
        problem = barred_week(seed)
        if solve(problem, workers=1).plan is None:
            continue
        for one in find_favours(problem, workers=1).priced:
            assert one.proved
            assert one.worth == exact_gain(problem, one), (seed, one.text)
            judged += 1
    assert judged > 20


def test_the_best_favour_of_all_is_found_by_brute_force() -> None:
    """Nothing that would help is left out: no single opened moment gives more than the first of the list."""
    for seed in range(30):
        problem = barred_week(seed)
        if solve(problem, workers=1).plan is None:
            continue
        found = find_favours(problem, workers=1)
        base = figures(problem).in_order(DRIVES)
        best = found.priced[0].worth if found.priced else (0, 0, 0)
        for favour in favours_of(problem, ()):
            after = best_figures(granted(problem, favour))
            assert after is not None
            assert tuple(a - b for a, b in zip(base, after, strict=True)) <= best, seed


def test_a_favour_names_places_by_name() -> None:
    problem = replace(gym(), places=(Place("a", "North School"), Place("b", "East School")))
    assert "East School" in favours_of(problem, ())[0].what


def test_the_week_at_hand_stands_where_the_search_found_less() -> None:
    """A week that the search missed (here: nothing placed) isn't taken for the worth of a favour."""
    problem = gym()
    best = solve(problem, workers=1)
    empty = solve(replace(problem, services=(problem.services[0],)), workers=1)
    assert best.figures is not None
    assert empty.figures is not None
    worse = replace(best, figures=replace(best.figures, unplaced=90), plan=empty.plan)
    assert or_known(problem, worse, best.plan).figures == best.figures
    assert or_known(problem, best, empty.plan) == best
