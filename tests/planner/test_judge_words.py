"""What the judge says of a fault: who and where by name, whatever the plan holds."""

from schedule.planner.check import check
from schedule.planner.problem import Day, Lunch, Problem
from schedule.planner.result import DayPlan, Item, ItemKind, Itinerary
from tests.planner.builders import at, service, tiny
from tests.planner.judged import drive, item, session


def said(items: tuple[Item, ...], asked: Problem) -> list[str]:
    """The sentences about one day."""
    return [one.text for one in check(asked, Itinerary((DayPlan("mon", items),))).violations]


def test_two_things_at_once_are_both_named() -> None:
    """The session by its service's label, the drive by where it goes, the block by its own label."""
    asked = tiny(service("x", at(500), label="Ball skills"))
    duty = Item(ItemKind.BLOCK, 510, 540, "a", label="Bus duty")
    first = next(text for text in said((session("x", 500), duty), asked) if "lasts until" in text)
    assert first.startswith("Ball skills lasts until 8:50")
    assert "Bus duty begins at 8:30" in first
    second = next(text for text in said((drive(500), duty), asked) if "lasts until" in text)
    assert second.startswith("The drive to South School lasts until")
    lunch = next(text for text in said((item(ItemKind.LUNCH, 500, 530), duty), asked) if "lasts until" in text)
    assert lunch.startswith("Lunch lasts until")
    setup = next(text for text in said((item(ItemKind.SETUP, 500, 530), duty), asked) if "lasts until" in text)
    assert setup.startswith("Setting up lasts until")


def test_what_nobody_knows_is_not_called_none() -> None:
    """A plan may be wrong in any way: a session of no service, a drive to nowhere, two places at one minute."""
    items = (
        session("x", 500), Item(ItemKind.SESSION, 500, 530, None, unit="x"), Item(ItemKind.SESSION, 505, 535, "a"),
        Item(ItemKind.DRIVE, 510, 540, "a"), drive(520),
    )  # fmt: skip
    asked = tiny(service("x", at(500)))
    overlaps = [text for text in said(items, asked) if "lasts until" in text]
    assert len(overlaps) == 4
    assert not any(word in text for text in overlaps for word in ("None", "False"))


def test_a_service_is_called_by_its_label_or_else_its_id() -> None:
    """In the sentences about the horizon as well."""
    twice = (session("x", 500), session("x", 600))
    for label, name in (("Ball skills", "Ball skills"), ("", "x")):
        sentences = said(twice, tiny(service("x", at(500), at(600), label=label)))
        assert [sentence for sentence in sentences if sentence.startswith(f"{name} is held 2 times")]
        assert [sentence for sentence in sentences if f"Sessions of {name} are" in sentence]


def test_no_lunch_and_two_lunches_are_told_apart() -> None:
    """Each asks for another mending."""
    asked = tiny(days=(Day("mon", 480, 720, lunch=Lunch(30, 480, 720)),))
    two = (item(ItemKind.LUNCH, 500, 530), item(ItemKind.LUNCH, 600, 630))
    assert "no lunch" in said((), asked)[0]
    assert "more than one" in said(two, asked)[0]
