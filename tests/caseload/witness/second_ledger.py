"""The second ledger: docs/minutes-ledger.md, counted day by day with exact fractions, slow and obvious."""

import datetime as dt
from calendar import monthrange
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property

from tests.caseload.witness.life import ONE_DAY, Deal, Lesson, Life, RuleSet, Stretch, Version, Year, days

WEEKDAYS = 5
TOGETHER = {"quarter": 4, "trimester": 3, "semester": 2}


@dataclass
class Account:
    """One period, in minutes. `days` are those in which the service is in force in it."""

    way: str
    stretch: Stretch
    days: list[dt.date]
    rules: RuleSet
    over: bool = False
    is_share: bool = False
    owed: int = 0
    due: int = 0
    scheduled: int = 0
    delivered: int = 0
    missed: dict[str, int] = field(default_factory=dict)
    unlogged: int = 0
    future: int = 0
    extra: int = 0
    not_owed: int = 0
    undecided: int = 0
    made_up: int = 0
    carried: int = 0
    carried_on: int = 0

    @property
    def lacking(self) -> int:
        """Minutes that nothing answers."""
        answered = self.delivered + self.made_up + self.carried + self.not_owed + self.undecided
        return max(self.due - answered, 0)

    @property
    def rounding(self) -> int:
        """What a share lacks and no session holds."""
        return self.lacking if self.is_share and self.over and self.lacking < self.rules.least else 0

    @property
    def still_owed(self) -> int:
        """Minutes behind."""
        return self.lacking - self.rounding

    @property
    def ahead(self) -> int:
        """Minutes above what the period owes that no other period was given."""
        return max(self.delivered - self.owed, 0) - self.carried_on


@dataclass
class Answer:
    """The accounts of each year, oldest first; what was open at each year's end; make-ups that nothing needed.

    `of_plan` are those of the last year that were over before its plan began, `plan_opened` what was open then.
    """

    years: list[list[Account]]
    opened: list[int]
    spare: int
    of_plan: list[Account] = field(default_factory=list)
    plan_opened: int = 0


def second_ledger(life: Life) -> Answer:
    """Count a life up to its date."""
    answer = Answer([], [], 0)
    since = dt.date.min
    for year in life.asked_years:
        until = life.as_of if year is life.asked_years[-1] else year.last
        accounts = [one for one in _accounts(life, year) if one.stretch.first <= life.as_of]
        answer.years.append(accounts)
        make_ups = [one for one in _in_order(life.lessons) if one.make_up and since < one.day <= until]
        answer.spare = _make_up([one for held in answer.years for one in held], make_ups)
        _carry(accounts)
        answer.opened.append(sum(one.still_owed for one in accounts))
        since = until
    _plan_before(life, answer)
    return answer


def _plan_before(life: Life, answer: Answer) -> None:
    """Keep apart what the plan before left in the year: its periods that were over when the present one began."""
    gone_by = [day for day in life.in_force if day <= life.as_of]
    if not gone_by:
        return
    plan = life.in_force[max(gone_by)].plan
    began = min(day for day, version in life.in_force.items() if version.plan == plan)
    answer.of_plan = [one for one in answer.years[-1] if max(one.days) < began]
    if answer.of_plan:
        then = second_ledger(replace(life, as_of=began - ONE_DAY))
        same = [(one.way, one.stretch) for one in answer.of_plan]
        answer.plan_opened = sum(one.still_owed for one in then.years[-1] if (one.way, one.stretch) in same)


def _accounts(life: Life, year: Year) -> list[Account]:
    """The periods of a year in which the service is in force on a day, the oldest first, before any make-up."""
    accounts: dict[tuple[str, dt.date], Account] = {}
    for day in days(year.first, year.last):
        period = period_of(life, year, day)
        if period is not None:
            key = (period[0], period[1].first)
            accounts.setdefault(key, Account(*period, [], life.rules_on(period[1].first))).days.append(day)
    for one in accounts.values():
        _Period(life, year, one).count()
    return list(accounts.values())


# ---- periods ---------------------------------------------------------------------------------------------


def period_of(life: Life, year: Year, day: dt.date) -> tuple[str, Stretch] | None:
    """The period of a date with its way of counting; None where the service isn't in force or none holds it."""
    version = life.in_force.get(day)
    if version is None:
        return None
    stretch = next((one for one in _candidates(life, year, day, version) if day in one), None)
    return None if stretch is None else (life.ways[version], stretch)


def _candidates(life: Life, year: Year, day: dt.date, version: Version) -> Iterable[Stretch]:
    """Stretches among which a date's period is."""
    deal = version.deal
    if deal.unit in {"day", "week"}:
        return [_weeks(_monday(day), 1)]
    if deal.unit == "weeks":
        first = _monday(life.begins(version))
        gone_by = (day - first).days // (7 * deal.of)
        return [_weeks(first + 7 * deal.of * gone_by * ONE_DAY, deal.of)]
    if deal.unit == "month":
        return [Stretch(day.replace(day=1), day.replace(day=monthrange(day.year, day.month)[1]))]
    if deal.unit == "year":
        return [Stretch(year.first, year.last)]
    if deal.unit == "service":
        return [Stretch(life.begins(version), life.ends(version))]
    if deal.unit == "cycle":
        return year.turns if deal.length in {None, life.rotation} else own_turns(life, year, version)
    return _joined(year.marking, deal.unit)


def _monday(day: dt.date) -> dt.date:
    return day - day.weekday() * ONE_DAY


def _weeks(monday: dt.date, number: int) -> Stretch:
    return Stretch(monday, monday + (7 * number - 1) * ONE_DAY)


def _joined(marking: tuple[Stretch, ...], unit: str) -> list[Stretch]:
    """Marking periods, alone or as many together as make a quarter, trimester or semester."""
    each = len(marking) // TOGETHER[unit] if unit in TOGETHER else 1
    return [Stretch(marking[n].first, marking[n + each - 1].last) for n in range(0, len(marking), each)]


def own_turns(life: Life, year: Year, version: Version) -> list[Stretch]:
    """So many school days each, from the first day of such terms on; the last of a year may have fewer."""
    begins = max(life.begins(version), year.first)
    school = [day for day in sorted(life.school_days) if begins <= day <= year.last]
    return turns(school, version.deal.length or 0, year.last) or [Stretch(begins, year.last)]


def turns(school: list[dt.date], length: int, last: dt.date) -> list[Stretch]:
    """Stretches of so many school days, each until the day before the next."""
    firsts = school[::length]
    ends = [first - ONE_DAY for first in firsts[1:]] + [last]
    return [Stretch(first, end) for first, end in zip(firsts, ends, strict=False)]


# ---- one period ------------------------------------------------------------------------------------------


@dataclass
class _Period:
    """A period while it is counted."""

    life: Life
    year: Year
    account: Account

    def count(self) -> None:
        """Set every figure but those of make-ups and minutes carried."""
        one = self.account
        in_force = self._in_force
        ends = in_force[-1] if self._is_whole_service else min(in_force[-1], self.year.last)
        one.over = ends <= self.life.as_of
        shared = self._shared
        deals = {self.life.in_force[day].deal for day in in_force}
        one.is_share = not one.way.startswith("day") and (
            not set(shared) <= set(in_force)
            or len(deals) > 1
            or (self._is_short(shared) and one.rules.short == "proportion")
        )
        one.owed = self._owed(shared, self._placed())
        for lesson in self._lessons:
            self._add(lesson)
        gone_by = [one for one in self._lessons if one.day <= self.life.as_of and self._could_be(one)]
        one.due = one.owed if one.over else min(one.owed, sum(lesson.minutes for lesson in gone_by))
        self._forgive()

    @property
    def _is_whole_service(self) -> bool:
        return self.account.way.startswith("service")

    @cached_property
    def _in_force(self) -> list[dt.date]:
        """The days on which the service counts in the period, those outside the school year too."""
        stretch = days(self.account.stretch.first, self.account.stretch.last)
        held = [(day, self.life.in_force.get(day)) for day in stretch]
        return [day for day, version in held if version is not None and self.life.ways[version] == self.account.way]

    @cached_property
    def _shared(self) -> list[dt.date]:
        """The days among which the period is shared: those in session, of a whole service its weekdays."""
        stretch = list(days(self.account.stretch.first, self.account.stretch.last))
        school = [day for day in stretch if day in self.year and day in self.life.school_days]
        if not self._is_whole_service:
            return school
        known = stretch[0] in self.year and stretch[-1] in self.year
        if known and not set(school) & set(self._in_force):
            return []
        return [day for day in stretch if day.weekday() < WEEKDAYS]

    def _is_short(self, school: list[dt.date]) -> bool:
        return self.account.way.startswith("week ") and len(school) < WEEKDAYS

    def _owed(self, school: list[dt.date], placed: int) -> int:
        """What the period owes where these days are in session."""
        most = self._share(school, lambda deal: self._most(deal, school))
        if not self._is_short(school) or self.account.rules.short != "scheduled":
            return most
        least = self._share(school, lambda deal: _least(deal, school))
        return min(max(placed, least), most)

    def _share(self, school: list[dt.date], whole: Callable[[Deal], Fraction]) -> int:
        """The days in force: differences of one rounded running total; different terms rounded once."""
        if not school:
            return 0
        in_force = {day: self.life.in_force[day].deal for day in self._in_force}
        each = {deal: whole(deal) / len(school) for deal in set(in_force.values())}
        if len(set(each.values())) > 1:
            return _rounded(sum((each[in_force[day]] for day in school if day in in_force), Fraction(0)))
        total = whole(next(iter(in_force.values())))
        shared = 0
        for n, day in enumerate(school):
            if day in in_force:
                shared += _rounded(total * (n + 1) / len(school)) - _rounded(total * n / len(school))
        return shared

    def _most(self, deal: Deal, school: list[dt.date]) -> Fraction:
        """What the period owes were all of it one version's; of a week that goes by what was placed, the most."""
        if deal.unit == "day":
            return Fraction(deal.once * len(school))
        if self._is_short(school) and self.account.rules.short == "proportion":
            return Fraction(deal.once * len(school), WEEKDAYS)
        if deal.on is not None:
            return Fraction(deal.once * min(deal.on, len({_monday(day) for day in school})))
        if deal.times is None or deal.unit in {"week", "service"}:
            return Fraction(deal.once)
        stretch = days(self.account.stretch.first, self.account.stretch.last)
        a_day_holds = _sessions_a_day(deal.times, len([day for day in stretch if day.weekday() < WEEKDAYS]))
        return Fraction(deal.minutes * min(deal.times, len(school) * a_day_holds))

    @cached_property
    def _lessons(self) -> list[Lesson]:
        return [one for one in _in_order(self.life.lessons) if not one.make_up and one.day in self.account.days]

    def _placed(self) -> int:
        return sum(lesson.minutes for lesson in self._lessons if self._could_be(lesson))

    def _could_be(self, lesson: Lesson) -> bool:
        """Whether a session was on a day in session, or given all the same."""
        return lesson.day in self.life.school_days or bool(lesson.given)

    def _add(self, lesson: Lesson) -> None:
        """Add one session's minutes."""
        one = self.account
        one.scheduled += lesson.minutes
        if lesson.day > self.life.as_of:
            one.future += lesson.minutes
        elif lesson.given is None:
            one.unlogged += lesson.minutes
        else:
            one.delivered += lesson.given
            one.extra += max(lesson.given - lesson.minutes, 0)
            if _missed(lesson):
                one.missed[lesson.reason] = one.missed.get(lesson.reason, 0) + _missed(lesson)

    def _forgive(self) -> None:
        """Set what isn't owed or is the team's: of closed days only what they haven't taken out already."""
        told = [one for one in self._lessons if one.day <= self.life.as_of and _missed(one)]
        if not told:
            return
        closed = [lesson.day for lesson in told if not self._could_be(lesson)]
        opened = sorted({*self._shared, *closed})
        also = sum(lesson.minutes for lesson in told if lesson.day in closed)
        taken_out = max(self._owed(opened, self._placed() + also) - self.account.owed, 0) if opened else 0
        for lesson in sorted(told, key=lambda one: self._effect(one) == "team"):
            effect = self._effect(lesson)
            if effect == "owed":
                continue
            minutes = _missed(lesson)
            if not self._could_be(lesson):
                minutes, taken_out = max(minutes - taken_out, 0), max(taken_out - minutes, 0)
            if effect == "team":
                self.account.undecided += minutes
            else:
                self.account.not_owed += minutes

    def _effect(self, lesson: Lesson) -> str:
        """What the team decided, else what the table of the day says."""
        return lesson.team or self.life.rules_on(lesson.day).reasons.get(lesson.reason, "team")


def _least(deal: Deal, school: list[dt.date]) -> Fraction:
    """What a short week owes even where less was placed: closed days take no more sessions than they hold."""
    if deal.times is None or not school:
        return Fraction(0)
    taken = (WEEKDAYS - len(school)) * _sessions_a_day(deal.times, WEEKDAYS)
    return Fraction(deal.minutes * max(deal.times - taken, 0))


def _sessions_a_day(times: int, weekdays: int) -> int:
    """As many as so many sessions are spread over so many days, rounded up."""
    return -(-times // weekdays)


def _rounded(exact: Fraction) -> int:
    """To the nearest minute, halves up."""
    return int(exact + Fraction(1, 2))


def _missed(lesson: Lesson) -> int:
    return 0 if lesson.given is None else max(lesson.minutes - lesson.given, 0)


def _in_order(lessons: Iterable[Lesson]) -> list[Lesson]:
    return sorted(lessons, key=lambda one: one.day)


# ---- make-ups and minutes ahead --------------------------------------------------------------------------


def _make_up(accounts: list[Account], make_ups: list[Lesson]) -> int:
    """Pay what each was booked for, then with what is left the oldest; answers the minutes that nothing lacks."""
    left = 0
    for lesson in make_ups:
        minutes = lesson.given or 0
        for one in accounts:
            if lesson.booked_for in one.days:
                paid = min(minutes, one.still_owed)
                one.made_up += paid
                minutes -= paid
        left += minutes
    for one in accounts:
        paid = min(left, one.still_owed)
        one.made_up += paid
        left -= paid
    return left


def _carry(accounts: list[Account]) -> None:
    """Minutes ahead go to the oldest shortfall of the year, where the district carries."""
    left = ahead = sum(one.ahead for one in accounts if one.rules.carry)
    for poor in accounts:
        moved = min(left, poor.still_owed)
        poor.carried += moved
        left -= moved
    spent = ahead - left
    for rich in accounts:
        moved = min(spent, rich.ahead) if rich.rules.carry else 0
        rich.carried_on += moved
        spent -= moved
