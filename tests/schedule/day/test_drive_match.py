"""Which logged drive belongs to which planned one; each test says which pairs the rule asks for."""

from hypothesis import given
from hypothesis import strategies as st

from schedule.day.drive_match import Timed, drive_key, drive_meant, match_drives

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


# ---- which drive a tap says ------------------------------------------------------------------------------------


def tapped(key: int, start: int, said: str) -> Timed:
    """A log that was tapped at a drive."""
    return Timed(key, THERE, start, said)


def test_a_tapped_drive_is_the_one_that_was_tapped_however_late() -> None:
    """At a quarter past one the morning's drive is tapped: it isn't the afternoon's."""
    planned = [leg("morning", 560), leg("afternoon", 780)]
    assert matched(planned, [tapped(7, 795, "morning")]) == {"morning": 7}
    both = [tapped(7, 795, "morning"), tapped(8, 796, "afternoon")]
    assert matched(planned, both) == {"morning": 7, "afternoon": 8}
    assert matched(planned, [tapped(7, 796, "afternoon"), log(8, 797)]) == {"afternoon": 7, "morning": 8}


def test_two_taps_of_one_drive_are_one_and_a_drive_beside_the_plan() -> None:
    """The second isn't put at the other drive of the pair, which nobody tapped."""
    planned = [leg("morning", 560), leg("afternoon", 780)]
    assert matched(planned, [tapped(7, 560, "morning"), tapped(8, 770, "morning")]) == {"morning": 7}


def test_a_tapped_drive_that_is_in_no_plan_anymore_is_known_by_its_time() -> None:
    """So is one whose buildings were corrected since: the name that was tapped is of other buildings."""
    planned = [leg("morning", 560), leg("afternoon", 780)]
    assert matched(planned, [tapped(7, 790, "of a week before")]) == {"afternoon": 7}
    assert matched([leg("back", 600, BACK)], [Timed(7, BACK, 600, "morning")]) == {"back": 7}


def test_each_drive_of_a_pair_has_a_name_of_its_own() -> None:
    """By when it begins as planned, so that one added before it changes nothing; alike in all, by number."""
    assert drive_key(THERE, 545) == "1-2-0905"
    assert len({drive_key(THERE, 545), drive_key(THERE, 780), drive_key(BACK, 545), drive_key(THERE, 545, 1)}) == 4


def meant(key: str, *planned: Timed) -> int | str | None:
    """The key of the planned drive that a key names."""
    found = drive_meant(key, planned)
    return None if found is None else found.key


def test_a_page_kept_before_names_the_drive_that_moved() -> None:
    """By up to half an hour, the nearest of the pair; one that is gone is none of the others."""
    morning, later = leg("1-2-0905", 545), leg("1-2-1300", 780)
    assert meant("1-2-0905", later, morning) == "1-2-0905"
    assert meant("1-2-0920", later, morning) == "1-2-0905"
    assert meant("1-2-0935", morning) == "1-2-0905"
    assert meant("1-2-0936", morning) is None
    assert meant("2-1-0905", morning, later) is None


def test_what_an_earlier_version_called_a_drive_still_names_it() -> None:
    """That counted the drives of a pair in the order of the day; what is no name at all names nothing."""
    morning, later = leg("1-2-0905", 545), leg("1-2-1300", 780)
    assert [meant(f"1-2-{number}", later, morning) for number in (1, 2, 3)] == ["1-2-0905", "1-2-1300", None]
    for text in (
        "",
        "-",
        "1-2",
        "1-2-",
        "1-2-x",
        "1-2-3-4",
        "1-2--1",
        "1-2-\N{ARABIC-INDIC DIGIT ONE}",
        "1-2-99999",
    ):
        assert meant(text, morning, later) is None


@given(st.lists(st.integers(0, 1439), max_size=5), st.lists(st.integers(0, 1439), max_size=5))
def test_as_many_pairs_as_there_can_be(planned: list[int], logged: list[int]) -> None:
    """No drive twice, none left over on both sides, and never a crossing."""
    legs = [leg(f"leg {n}", start) for n, start in enumerate(sorted(planned))]
    found = match_drives(legs, [log(n, start) for n, start in enumerate(logged)])
    assert len(found) == min(len(planned), len(logged))
    assert len({one.key for one in found.values()}) == len(found)
    starts = [found[one.key].start or 0 for one in legs if one.key in found]
    assert starts == sorted(starts)
