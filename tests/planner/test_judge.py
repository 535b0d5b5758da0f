"""The judge finds what is wrong with a plan that was tampered with: one fault for each rule."""

from dataclasses import replace

import pytest

from schedule.planner.check import check
from schedule.planner.problem import Block, Day, Lunch, Pin, Problem
from schedule.planner.result import DayPlan, Item, ItemKind, Itinerary
from schedule.planner.solve import solve
from tests.planner.builders import at, service, tiny

DAY = Day(
    "mon",
    480,
    720,
    lunch=Lunch(30, 560, 660),
    blocks=(Block(690, 710, "b", "Meeting"),),
    start_place="a",
)


def problem() -> Problem:
    """Two sessions in two places, lunch, a meeting, a pin."""
    return tiny(
        service("x", at(500), at(500, "b")),
        service("y", at(550, "b")),
        days=(DAY,),
        pins=(Pin("x", "mon", 500, "a"),),
        setup_minutes=5,
    )


def good() -> list[Item]:
    """The itinerary that the planner gives."""
    result = solve(problem(), workers=1)
    assert result.plan is not None
    return list(result.plan.days[0].items)


def rules(items: list[Item]) -> set[str]:
    """The names of the rules that an itinerary breaks."""
    verdict = check(problem(), Itinerary((DayPlan("mon", tuple(items)),)))
    return {violation.rule for violation in verdict.violations}


def changed(kind: ItemKind, **changes: object) -> list[Item]:
    """The good itinerary with the first item of a kind changed."""
    items = good()
    at_ = next(n for n, item in enumerate(items) if item.kind is kind)
    items[at_] = replace(items[at_], **changes)  # type: ignore[arg-type]  # any field, by name
    return items


def test_the_planners_own_itinerary_passes() -> None:
    assert rules(good()) == set()


@pytest.mark.parametrize(
    ("kind", "changes", "rule"),
    [
        (ItemKind.SESSION, {"start": 505, "end": 535}, "only at its starts"),
        (ItemKind.SESSION, {"end": 525}, "only at its starts"),
        (ItemKind.SESSION, {"space": "pool"}, "only at its starts"),
        (ItemKind.SESSION, {"unit": "nobody"}, "only at its starts"),
        (ItemKind.SESSION, {"unit": "y"}, "pins are kept"),
        (ItemKind.SESSION, {"place": "b"}, "every move is driven"),
        (ItemKind.DRIVE, {"end": 539}, "every move is driven"),
        (ItemKind.DRIVE, {"drive_minutes": 9}, "every move is driven"),
        (ItemKind.DRIVE, {"to_place": "a"}, "every move is driven"),
        (ItemKind.DRIVE, {"start": 537, "end": 547}, "time to set up"),
        (ItemKind.LUNCH, {"start": 570, "end": 600}, "one thing at a time"),
        (ItemKind.LUNCH, {"start": 640, "end": 670}, "lunch is kept"),
        (ItemKind.LUNCH, {"end": 605}, "lunch is kept"),
        (ItemKind.BLOCK, {"start": 680, "end": 700}, "blocks are kept"),
        (ItemKind.BLOCK, {"start": 705, "end": 725}, "inside the contract day"),
    ],
)
def test_a_fault_is_found(kind: ItemKind, changes: dict[str, object], rule: str) -> None:
    assert rule in rules(changed(kind, **changes))


@pytest.mark.parametrize(
    ("kind", "rule"),
    [
        (ItemKind.LUNCH, "lunch is kept"),
        (ItemKind.BLOCK, "blocks are kept"),
        (ItemKind.DRIVE, "every move is driven"),
        (ItemKind.SESSION, "pins are kept"),
    ],
)
def test_something_left_out_is_found(kind: ItemKind, rule: str) -> None:
    items = good()
    items.remove(next(item for item in items if item.kind is kind))
    assert rule in rules(items)


def test_too_many_sessions_and_too_close_are_found() -> None:
    asked = tiny(service("x", at(500), at(600)))
    sessions = tuple(Item(ItemKind.SESSION, m, m + 30, "a", unit="x") for m in (500, 600))
    found = {one.rule for one in check(asked, Itinerary((DayPlan("mon", sessions),))).violations}
    assert found == {"no more than owed", "days apart"}


def test_days_in_another_order_are_found() -> None:
    assert not check(problem(), Itinerary(())).holds
