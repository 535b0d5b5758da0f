"""Who is planned after whom. What is asserted is the rule of docs/everybody.md; no outside source."""

from schedule.everybody.order import Sharer, Turn, turns_of


def sharer(teacher: int, students: int, *keys: str) -> Sharer:
    return Sharer(teacher, f"Teacher {teacher}", students, frozenset(keys))


def test_whoever_shares_nothing_waits_for_nobody() -> None:
    assert turns_of([sharer(1, 5, "a"), sharer(2, 5, "b")]) == (Turn(1), Turn(2))


def test_most_students_first_then_by_name() -> None:
    turns = turns_of([sharer(1, 4, "gym"), sharer(2, 9, "gym"), sharer(3, 4, "gym")])
    assert turns == (Turn(2), Turn(1, (2,)), Turn(3, (2, 1)))


def test_only_those_who_share_are_waited_for() -> None:
    """Two shares of one teacher, who share nothing with each other, may be planned at one moment."""
    turns = turns_of([sharer(1, 9, "gym", "pool"), sharer(2, 5, "gym"), sharer(3, 5, "pool")])
    assert turns == (Turn(1), Turn(2, (1,)), Turn(3, (1,)))


def test_neighbors_along_a_road_need_two_rounds() -> None:
    """Each shares a school with the next: every other one begins at once, the rest wait for two at most."""
    road = [sharer(at, 5, f"school {at}", f"school {at + 1}") for at in range(1, 7)]
    assert turns_of(road) == (
        Turn(1), Turn(3), Turn(5), Turn(2, (1, 3)), Turn(4, (3, 5)), Turn(6, (5,)),
    )  # fmt: skip


def test_the_order_is_the_same_however_they_are_given() -> None:
    three = [sharer(1, 4, "gym"), sharer(2, 9, "gym"), sharer(3, 4)]
    assert turns_of(three) == turns_of(reversed(three))
