"""The load list: out of the closet, out of the car, along from a school before, or missing."""

from hypothesis import given
from hypothesis import strategies as st

from schedule.class_hour.loading import CAR, ClosetUse, EquipmentNeed, Stop, Taken, clashes_of, load_of_day

NORTH, SOUTH, EAST = 1, 2, 3
SPOTS, CHUTE = 10, 11


def stop(building: int, *needs: tuple[int, int], start: int = 0) -> Stop:
    """A stop whose sessions need these counts at the same time."""
    return Stop(building, tuple(EquipmentNeed(kind, count, start, start + 30) for kind, count in needs))


def test_the_closet_first_then_the_car() -> None:
    """Eight of twelve are in the school, four ride along; the parachute is nowhere."""
    day = load_of_day([stop(NORTH, (SPOTS, 12), (CHUTE, 1))], {NORTH: {SPOTS: 8}, CAR: {SPOTS: 6}})
    (one,) = day.stops
    assert one.here == [Taken(SPOTS, 8, NORTH)]
    assert one.carry_in == [Taken(SPOTS, 4, CAR)]
    assert one.missing == [Taken(CHUTE, 1, NORTH)]
    assert day.car == {SPOTS: 4}


def test_the_car_carries_what_the_hungriest_stop_needs() -> None:
    """What was used at one school is in the car again for the next."""
    day = load_of_day([stop(NORTH, (SPOTS, 4)), stop(SOUTH, (SPOTS, 6))], {CAR: {SPOTS: 6}})
    assert day.car == {SPOTS: 6}
    assert not any(one.missing for one in day.stops)


def test_along_from_a_school_before_and_back() -> None:
    """Only from schools that the day goes to before; it is brought back there."""
    day = load_of_day([stop(NORTH), stop(SOUTH, (CHUTE, 1)), stop(EAST, (CHUTE, 1))], {NORTH: {CHUTE: 1}})
    first, second, third = day.stops
    assert first.pick_up == [Taken(CHUTE, 1, NORTH)]
    assert second.carry_in == third.carry_in == [Taken(CHUTE, 1, NORTH)]
    assert day.bring_back == [Taken(CHUTE, 1, NORTH)]
    late = load_of_day([stop(SOUTH, (CHUTE, 1)), stop(NORTH)], {NORTH: {CHUTE: 1}})
    assert late.stops[0].missing == [Taken(CHUTE, 1, SOUTH)]


def test_sessions_after_each_other_share_and_at_once_add_up() -> None:
    """Two groups at the same moment need both."""
    after = Stop(NORTH, (EquipmentNeed(SPOTS, 4, 0, 30), EquipmentNeed(SPOTS, 5, 30, 60)))
    at_once = Stop(NORTH, (EquipmentNeed(SPOTS, 4, 0, 30), EquipmentNeed(SPOTS, 5, 20, 60)))
    assert (after.most, at_once.most) == ({SPOTS: 5}, {SPOTS: 9})


def test_two_teachers_at_one_closet() -> None:
    """More than there is at one moment is said, with how many there are; one after the other is none."""
    stock = {NORTH: {SPOTS: 10}}
    one, two = ClosetUse(1, NORTH, SPOTS, 6, 0, 30), ClosetUse(2, NORTH, SPOTS, 6, 20, 50)
    (clash,) = clashes_of([one, two], stock)
    assert (clash.wanted, clash.there, {use.teacher for use in clash.uses}) == (12, 10, {1, 2})
    assert clashes_of([one, ClosetUse(2, NORTH, SPOTS, 6, 30, 60)], stock) == ()
    assert clashes_of([one, two], {NORTH: {SPOTS: 12}}) == ()
    # One teacher alone who wants more is missing some, which the list says anyway.
    assert clashes_of([ClosetUse(1, NORTH, SPOTS, 11, 0, 30)], stock) == ()


STOPS = st.lists(
    st.tuples(
        st.sampled_from([NORTH, SOUTH, EAST]), st.dictionaries(st.sampled_from([SPOTS, CHUTE]), st.integers(1, 9))
    ),
    max_size=5,
)
STOCK = st.fixed_dictionaries(
    {
        place: st.dictionaries(st.sampled_from([SPOTS, CHUTE]), st.integers(0, 9))
        for place in (CAR, NORTH, SOUTH, EAST)
    }
)


@given(STOPS, STOCK)
def test_all_that_is_needed_is_found_or_missing(
    stops: list[tuple[int, dict[int, int]]], stock: dict[int, dict[int, int]]
) -> None:
    """Each stop's figures add up to its needs, and no place gives more than it has."""
    day = load_of_day([stop(building, *needs.items()) for building, needs in stops], stock)
    for (building, needs), load in zip(stops, day.stops, strict=True):
        taken = [*load.here, *load.carry_in, *load.missing]
        for kind, wanted in needs.items():
            assert sum(one.count for one in taken if one.equipment == kind) == wanted
        assert all(one.place == building for one in load.here)
        for one in [*load.here, *load.carry_in]:
            assert one.count <= stock[one.place].get(one.equipment, 0)
    for one in day.bring_back:
        assert one.count <= stock[one.place][one.equipment]
        assert (
            sum(
                x.count
                for load in day.stops
                for x in load.pick_up
                if (x.equipment, x.place) == (one.equipment, one.place)
            )
            == one.count
        )
