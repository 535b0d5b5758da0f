"""Which logged drive belongs to which planned one; each test says which pairs the rule asks for."""

from hypothesis import given
from hypothesis import strategies as st

from schedule.day.drive_match import Timed, match_drives

THERE, BACK = (1, 2), (2, 1)


def leg(key: str, start: int, ends: tuple[int, int] = THERE) -> Timed:
    """A planned drive."""
    return Timed(key, ends, start)


def log(key: int, start: int | None, ends: tuple[int, int] = THERE) -> Timed:
    """A logged one."""
    return Timed(key, ends, start)


def matched(planned: list[Timed], logged: list[Timed]) -> dict[int | str, int | str]:
    """Ids of logs by keys of planned drives."""
    return {key: one.key for key, one in match_drives(planned, logged).items()}


def test_the_nearest_of_two_alike() -> None:
    """Only the afternoon's drive was tapped: it isn't the morning's."""
    planned = [leg("morning", 560), leg("afternoon", 780)]
    assert matched(planned, [log(7, 790)]) == {"afternoon": 7}
    assert matched(planned, [log(7, 570)]) == {"morning": 7}


def test_two_logs_keep_their_order() -> None:
    """Both began late, nearer to the afternoon's: each planned drive has one all the same."""
    planned = [leg("morning", 560), leg("afternoon", 780)]
    assert matched(planned, [log(8, 800), log(7, 760)]) == {"morning": 7, "afternoon": 8}


def test_the_way_back_is_another_drive() -> None:
    """Directions don't mix."""
    assert matched([leg("there", 560)], [log(7, 560, BACK)]) == {}


def test_more_logs_than_drives() -> None:
    """The nearest counts; the other belongs to none."""
    assert matched([leg("one", 560)], [log(6, 400), log(7, 561)]) == {"one": 7}


def test_an_odometer_alone_takes_what_is_left() -> None:
    """It has no time to be nearer by."""
    planned = [leg("morning", 560), leg("afternoon", 780)]
    assert matched(planned, [log(5, None), log(7, 565)]) == {"morning": 7, "afternoon": 5}


@given(st.lists(st.integers(0, 1439), max_size=5), st.lists(st.integers(0, 1439), max_size=5))
def test_as_many_pairs_as_there_can_be(planned: list[int], logged: list[int]) -> None:
    """No drive twice, none left over on both sides, and never a crossing."""
    legs = [leg(f"leg {n}", start) for n, start in enumerate(sorted(planned))]
    found = match_drives(legs, [log(n, start) for n, start in enumerate(logged)])
    assert len(found) == min(len(planned), len(logged))
    assert len({one.key for one in found.values()}) == len(found)
    starts = [found[one.key].start or 0 for one in legs if one.key in found]
    assert starts == sorted(starts)
