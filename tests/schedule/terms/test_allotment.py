"""Sessions of longer periods shared out over weeks: small questions by hand, and tiny ones by trying everything."""

import datetime as dt
import itertools
import random
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping

import pytest

from schedule.terms.allotment.model import AllotmentLimits
from schedule.terms.allotment.question import (
    Allotment,
    AllotmentAim,
    AllotmentError,
    AllotmentQuestion,
    RoomWeek,
    Share,
    ShareKind,
    WeekChance,
    WeekStop,
)
from schedule.terms.allotment.solve import allot

FIRST = dt.date(2026, 11, 2)
WEEKS = tuple(FIRST + dt.timedelta(weeks=n) for n in range(5))
CEDAR, MESA = "cedar", "mesa"


def stop(days: int = 1, most: int = 5, free: int = 120, a_day: int = 120, trip: int = 40) -> WeekStop:
    return WeekStop(days, most, free, a_day, trip)


def week(
    number: int, room: int = 600, companies: Mapping[str, int] | None = None, cedar: WeekStop | None = None
) -> RoomWeek:
    return RoomWeek(WEEKS[number], room, {CEDAR: cedar or stop()}, companies or {})


def share(
    count: int,
    weeks: range,
    *,
    line: int = 1,
    kind: ShareKind = ShareKind.OWED,
    minutes: int = 30,
    company: str = "",
    place: str = CEDAR,
    most: int = 5,
    period: str = "November 2026",
) -> Share:
    chances = tuple(WeekChance(WEEKS[n], place, most, 5) for n in weeks)
    return Share(line, kind, period, minutes, count, chances, company)


def counts(found: Allotment, at: int = 0) -> list[int]:
    return [found.allotted[at].weeks.get(monday, 0) for monday in WEEKS]


# ---- by hand ---------------------------------------------------------------------------------------------


def test_an_even_pace_where_every_week_costs_the_same() -> None:
    found = allot(AllotmentQuestion(tuple(week(n) for n in range(4)), (share(4, range(4)),)))
    assert counts(found) == [1, 1, 1, 1, 0]
    assert found.is_proved
    assert found.trips == {}


def test_sessions_go_to_weeks_in_which_the_teacher_is_there_anyway() -> None:
    # Two of the four weeks go to the school, on two days each; any other week would cost a trip of 40 minutes.
    weeks = tuple(week(n, cedar=stop(days=2 if n < 2 else 0)) for n in range(4))
    found = allot(AllotmentQuestion(weeks, (share(4, range(4)),)))
    assert counts(found) == [2, 2, 0, 0, 0]
    assert found.trips == {}
    assert found.value(AllotmentAim.COST) == 4 * 30


def test_a_month_isn_t_bunched_into_the_only_week_that_is_free_of_a_trip() -> None:
    # Three days there in the first week, none in the others; more than two a week are too many for four a month.
    weeks = tuple(week(n, cedar=stop(days=3 if n == 0 else 0)) for n in range(4))
    chances = tuple(WeekChance(WEEKS[n], CEDAR, 5, 5, pace=2) for n in range(4))
    found = allot(AllotmentQuestion(weeks, (Share(1, ShareKind.OWED, "November", 30, 3, chances),)))
    assert counts(found)[0] == 2
    assert found.value(AllotmentAim.BUNCHED) == 0


def test_two_services_share_a_day_that_neither_week_has_anyway() -> None:
    weeks = tuple(week(n, cedar=stop(days=0, free=0)) for n in range(4))
    found = allot(AllotmentQuestion(weeks, (share(1, range(4), line=1), share(1, range(4), line=2))))
    assert counts(found, 0) == counts(found, 1)
    assert list(found.trips.values()) == [1]


def test_a_member_of_a_class_that_meets_anyway_costs_nothing() -> None:
    weeks = tuple(week(n, companies={"class": 1 if n == 2 else 0}) for n in range(4))
    found = allot(AllotmentQuestion(weeks, (share(1, range(4), company="class"),)))
    assert counts(found) == [0, 0, 1, 0, 0]
    assert found.value(AllotmentAim.COST) == 0


def test_a_full_week_is_left_alone() -> None:
    weeks = tuple(week(n, room=0 if n == 1 else 600) for n in range(3))
    found = allot(AllotmentQuestion(weeks, (share(3, range(3)),)))
    assert counts(found)[1] == 0
    assert found.allotted[0].missing == 0
    assert found.value(AllotmentAim.OVERFULL) == 0


def test_a_week_is_rather_too_full_than_a_session_lost() -> None:
    found = allot(AllotmentQuestion((week(0, room=0),), (share(1, range(1)),)))
    assert counts(found)[0] == 1
    assert found.value(AllotmentAim.OVERFULL) == 30


def test_what_has_no_day_at_all_is_said_to_be_missing() -> None:
    found = allot(AllotmentQuestion((week(0), week(1)), (share(5, range(2), most=2),)))
    assert found.allotted[0].placed == 4
    assert found.allotted[0].missing_minutes == 30


def test_a_week_on_the_edge_of_two_months_holds_sessions_of_one() -> None:
    # Weeks 0 to 2 have days of the first month, weeks 2 to 4 of the second; two sessions each.
    shares = (share(2, range(3), period="November"), share(2, range(2, 5), period="December"))
    found = allot(AllotmentQuestion(tuple(week(n) for n in range(5)), shares))
    assert found.value(AllotmentAim.MIXED) == 0
    assert not (found.allotted[0].weeks.keys() & found.allotted[1].weeks.keys())


def test_sessions_of_two_lengths_never_share_a_week() -> None:
    shares = (share(2, range(2), minutes=30), share(1, range(2), minutes=20))
    found = allot(AllotmentQuestion((week(0), week(1)), shares))
    assert not (found.allotted[0].weeks.keys() & found.allotted[1].weeks.keys())
    assert [one.missing for one in found.allotted] == [0, 0]


def test_sessions_that_stay_are_counted() -> None:
    chances = (WeekChance(WEEKS[0], CEDAR, 5, 5, least=2), WeekChance(WEEKS[1], CEDAR, 5, 5))
    found = allot(AllotmentQuestion((week(0), week(1)), (Share(1, ShareKind.OWED, "November", 30, 2, chances),)))
    assert counts(found)[:2] == [2, 0]


def test_a_short_week_is_made_good_in_the_first_later_week_with_room() -> None:
    weeks = (week(0), week(1, room=20), week(2), week(3))
    found = allot(AllotmentQuestion(weeks, (share(1, range(1, 4), kind=ShareKind.MAKE_GOOD),)))
    assert counts(found) == [0, 0, 1, 0, 0]


def test_the_reserve_takes_only_room_that_is_left() -> None:
    # 60 minutes of room in two weeks, 3 x 30 owed: room for one more session only.
    shares = (share(3, range(2)), share(3, range(2), kind=ShareKind.RESERVE))
    found = allot(AllotmentQuestion((week(0, room=60), week(1, room=60)), shares))
    assert found.allotted[0].placed == 3
    assert found.allotted[1].placed == 1
    assert found.value(AllotmentAim.NO_RESERVE) == 2 * 30


def test_the_same_question_gives_the_same_answer() -> None:
    question = next(questions(5))
    assert allot(question) == allot(question)


def test_an_answer_that_the_limit_cut_short_is_not_called_proved() -> None:
    weeks = tuple(week(n, room=100 + 7 * n) for n in range(5))
    shares = tuple(share(3 + line % 3, range(5), line=line, minutes=20 + 5 * line) for line in range(8))
    found = allot(AllotmentQuestion(weeks, shares), AllotmentLimits(nodes=0, seconds=0.0))
    assert all(one.bound <= one.value for one in found.reached)
    full = allot(AllotmentQuestion(weeks, shares))
    for short, long in zip(found.reached, full.reached, strict=True):
        assert short.aim is long.aim
        if short.value != long.value:
            break  # Aims after one that is worse ask something else.
        assert short.bound <= long.value


# ---- contradictions --------------------------------------------------------------------------------------


def test_more_staying_than_possible_is_refused() -> None:
    with pytest.raises(AllotmentError, match="At least 3 and at most 2"):
        WeekChance(FIRST, CEDAR, 2, 5, least=3)


def test_a_session_without_minutes_is_refused() -> None:
    with pytest.raises(AllotmentError, match="0 minutes"):
        share(1, range(1), minutes=0)


def test_a_week_twice_is_refused() -> None:
    chance = WeekChance(FIRST, CEDAR, 1, 5)
    with pytest.raises(AllotmentError, match="twice"):
        Share(1, ShareKind.OWED, "November", 30, 1, (chance, chance))


def test_an_unknown_building_is_refused() -> None:
    with pytest.raises(AllotmentError, match="no building 'mesa'"):
        AllotmentQuestion((week(0),), (share(1, range(1), place=MESA),))


# ---- by trying everything --------------------------------------------------------------------------------


def questions(seed: int) -> Iterator[AllotmentQuestion]:
    """Tiny questions of every kind."""
    draw = random.Random(seed)  # noqa: S311 -- test data, no secret
    while True:
        weeks = tuple(
            RoomWeek(
                WEEKS[n],
                draw.choice([0, 45, 90, 200]),
                {
                    place: WeekStop(draw.randint(0, 2), 2, draw.choice([0, 30, 90]), 60, draw.choice([20, 45]))
                    for place in (CEDAR, MESA)
                },
                {"class": draw.randint(0, 1)},
            )
            for n in range(2)
        )
        yield AllotmentQuestion(weeks, tuple(_share(draw, line) for line in (1, 1, 2)))


def _share(draw: random.Random, line: int) -> Share:
    kind = draw.choice([ShareKind.OWED, ShareKind.OWED, ShareKind.OWED, ShareKind.MAKE_GOOD, ShareKind.RESERVE])
    stays = [0, 0, 0, 1] if kind is ShareKind.OWED else [0]
    chances = tuple(
        WeekChance(
            WEEKS[n], draw.choice([CEDAR, MESA]), most := draw.randint(0, 2), draw.randint(1, 5), min(most, least)
        )
        for n in range(2)
        for least in [draw.choice(stays)]
    )
    company, apart = draw.choice(["", "class"]), draw.random() < 0.7
    return Share(line, kind, "a month", draw.choice([20, 30]), draw.randint(0, 3), chances, company, apart)


def best(question: AllotmentQuestion) -> tuple[int, ...] | None:
    """The aims of the best of all allotments, each worked out from its rule; None where there is none."""
    ways = [[range(one.least, one.most + 1) for one in share.chances] for share in question.shares]
    flat = [choice for several in ways for choice in several]
    spots = [(week, place) for week in question.weeks for place in week.stops]
    trips = [range(max(week.stops[place].most - week.stops[place].days, 0) + 1) for week, place in spots]
    found: list[tuple[int, ...]] = []
    for chosen in itertools.product(*flat):
        held = {
            (at, chance.monday): chosen[2 * at + number]
            for at, share in enumerate(question.shares)
            for number, chance in enumerate(share.chances)
        }
        for added in itertools.product(*trips):
            more = {(week.monday, place): count for (week, place), count in zip(spots, added, strict=True)}
            judged = judge(question, held, more)
            if judged is not None:
                found.append(judged)
    return min(found, default=None)


def judge(
    question: AllotmentQuestion, held: Mapping[tuple[int, dt.date], int], more: Mapping[tuple[dt.date, str], int]
) -> tuple[int, ...] | None:
    """The aims of one allotment in their order; None where it breaks a rule."""
    sums: Counter[AllotmentAim] = Counter()
    for at, share in enumerate(question.shares):
        if not judge_share(share, [held[at, one.monday] for one in share.chances], sums):
            return None
    of_line: dict[tuple[int, dt.date], list[Share]] = defaultdict(list)
    for (at, monday), count in held.items():
        if count and question.shares[at].kind is ShareKind.OWED:
            of_line[question.shares[at].line, monday].append(question.shares[at])
    if any(len({one.minutes for one in several}) > 1 for several in of_line.values()):
        return None
    sums[AllotmentAim.MIXED] = sum(len(several) - 1 for several in of_line.values())
    if not all(judge_week(question, week, held, more, sums) for week in question.weeks):
        return None
    return tuple(sums[aim] for aim in AllotmentAim)


def judge_share(share: Share, counts_: list[int], sums: Counter[AllotmentAim]) -> bool:
    """What a share misses, and how far it is from its pace; False where it holds more than it should."""
    aims = {
        ShareKind.OWED: AllotmentAim.MISSING,
        ShareKind.MAKE_GOOD: AllotmentAim.NOT_MADE_GOOD,
        ShareKind.RESERVE: AllotmentAim.NO_RESERVE,
    }
    sums[aims[share.kind]] += max(share.count - sum(counts_), 0) * share.minutes
    whole = sum(one.days for one in share.chances)
    for number, count in enumerate(counts_):
        through, reached = sum(one.days for one in share.chances[: number + 1]), sum(counts_[: number + 1])
        soon = share.kind is ShareKind.MAKE_GOOD
        pace = share.chances[number].pace
        sums[AllotmentAim.BUNCHED] += 0 if pace is None else max(count - pace, 0)
        sums[AllotmentAim.PACE] += number * count if soon else abs(reached * whole - share.count * through)
    return sum(counts_) <= max(share.count, sum(one.least for one in share.chances))


type Here = list[tuple[Share, WeekChance, int]]


def judge_week(
    question: AllotmentQuestion,
    week: RoomWeek,
    held: Mapping[tuple[int, dt.date], int],
    more: Mapping[tuple[dt.date, str], int],
    sums: Counter[AllotmentAim],
) -> bool:
    """One week's sums; False where days or room don't hold what is in it."""
    owed = optional = 0
    for place, at_stop in week.stops.items():
        here = [
            (share, one, held[at, week.monday])
            for at, share in enumerate(question.shares)
            for one in share.chances
            if one.monday == week.monday and one.place == place
        ]
        optional += sum(count * share.minutes for share, _, count in here if share.kind is not ShareKind.OWED)
        real = [one for one in here if one[0].kind is not ShareKind.RESERVE]
        added = more[week.monday, place]
        days = at_stop.days + added
        if any(count > days * (1 if share.apart else one.most) for share, one, count in real) or (
            added and not real
        ):
            return False
        taken = minutes_taken(week, [one for one in real if one[0].kind is ShareKind.OWED])
        sums[AllotmentAim.COST] += taken + added * at_stop.trip
        sums[AllotmentAim.OVERFULL] += max(taken - max(at_stop.free, 0) - at_stop.a_day * added, 0)
        owed += taken + added * at_stop.trip
    over = max(owed - week.room, 0)
    sums[AllotmentAim.OVERFULL] += over
    return optional == 0 or owed + optional <= week.room + over


def minutes_taken(week: RoomWeek, here: Here) -> int:
    """Minutes of the teacher's own: a class's sessions once, and only those beyond what it holds anyway."""
    alone = sum(count * share.minutes for share, _, count in here if not share.company)
    classes: dict[tuple[str, int], int] = defaultdict(int)
    for share, _, count in here:
        if share.company:
            extra = max(count - week.companies.get(share.company, 0), 0)
            classes[share.company, share.minutes] = max(classes[share.company, share.minutes], extra)
    return alone + sum(count * minutes for (_, minutes), count in classes.items())


@pytest.mark.parametrize("seed", range(12))
def test_as_good_as_the_best_of_all(seed: int) -> None:
    made = questions(seed)
    for _ in range(6):
        question = next(made)
        wanted = best(question)
        if wanted is None:
            with pytest.raises(AllotmentError, match="stay"):
                allot(question)
            continue
        found = allot(question)
        assert tuple(one.value for one in found.reached) == wanted, question
        assert found.is_proved
