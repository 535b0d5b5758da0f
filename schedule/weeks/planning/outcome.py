"""A timed plan back as the content of a week: sessions, drives, what is left unplaced, figures, broken rules."""

import datetime as dt
import uuid
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from caseload.plans.models import ServiceLine
from caseload.plans.naming import marked
from schedule.calendar.starts import spoken
from schedule.planner.check import Verdict, Violation, check
from schedule.planner.problem import Goal, Problem, Session
from schedule.planner.result import DayPlan, Item, ItemKind, Itinerary, Stage
from schedule.weeks.models import DayItem
from schedule.weeks.planning.assemble import WeekInput
from schedule.weeks.planning.make_up_services import is_make_up
from schedule.weeks.versions.content import ItemContent, SessionContent, UnplacedContent, WeekContent

STORED = {
    ItemKind.DRIVE: DayItem.Kind.DRIVE,
    ItemKind.LUNCH: DayItem.Kind.LUNCH,
    ItemKind.PREPARATION: DayItem.Kind.PREPARATION,
    ItemKind.BLOCK: DayItem.Kind.MEETING,
}


@dataclass(frozen=True, slots=True)
class Told:
    """What the search has to say beside the plan itself.

    ``stages`` is empty after edits by hand: nothing is proved then. ``reasons`` and ``asks`` by service id;
    ``otherwise`` is the reason of what isn't placed and has none.
    """

    stages: tuple[Stage, ...] = ()
    reasons: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    asks: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    otherwise: str = "Taken out by hand."


# ---- sessions --------------------------------------------------------------------------------------------


def sessions_of_plan(week: WeekInput, plan: Itinerary, before: WeekContent | None) -> tuple[SessionContent, ...]:
    """The plan's sessions. One that was there ``before`` keeps its uid; pinned ones stay pinned."""
    served: Counter[int] = Counter()
    found: list[SessionContent] = []
    for session in sorted(plan.sessions, key=lambda one: (one.day, one.at)):
        info = week.info(session.unit)
        date = dt.date.fromisoformat(session.day)
        makes_up = is_make_up(session.unit)
        lines = info.lines
        if not makes_up:
            lines = tuple(line for line in info.lines if _is_served(week, line, date, served))
            served.update(lines)
        minutes = session.minutes or week.problem.unit(session.unit).minutes
        found.append(
            dated(
                week,
                SessionContent(
                    uid=str(uuid.uuid4()),
                    date=date,
                    start=session.at,
                    end=session.at + minutes,
                    building=week.buildings[session.place].pk,
                    key=session.unit,
                    setting=info.setting,
                    lines=lines or info.lines[:1],
                    space=week.spaces.get((session.place, session.space or "")),
                    school_class=info.school_class,
                    pinned=(session.unit, date, session.at) in week.pinned,
                    makes_up=makes_up,
                    students_from=info.students_from,
                ),
            )
        )
    return with_uids(found, before)


def _is_served(week: WeekInput, line: int, date: dt.date, served: Counter[int]) -> bool:
    """A class may meet more often than one of its lines owes; that line counts the first ones only."""
    one = week.lines[line]
    return one.active_on(date) and served[line] < one.owed.sessions


def dated(week: WeekInput, session: SessionContent) -> SessionContent:
    """The session with the name of its period and the cycle day of its date."""
    facts = week.facts(session.building, session.date).for_grades(week.grades_of(session))
    period = facts.bells.period_at(session.start) if facts.bells else None
    return replace(session, period=period.name if period else "", cycle_day=facts.cycle_label)


def with_uids(sessions: Sequence[SessionContent], before: WeekContent | None) -> tuple[SessionContent, ...]:
    """Sessions that continue one of ``before`` under its uid.

    First those of the same unit at the same time, then on the same day, then in order of time, then those that
    share a line.
    """
    left = list(before.sessions) if before else []
    named: dict[str, SessionContent] = {}
    for same in (_same_uid, _same_time, _same_day, _same_unit, _shares_line):
        for one in sessions:
            match = next((old for old in left if one.uid not in named and same(one, old)), None)
            if match is not None:
                named[one.uid] = match
                left.remove(match)
    return tuple(_continued(one, named.get(one.uid)) for one in sessions)


def _continued(one: SessionContent, old: SessionContent | None) -> SessionContent:
    """A session under the uid of the one that it continues; a make-up is for the same missed session as before."""
    if old is None:
        return one
    return replace(one, uid=old.uid, makes_up_for=one.makes_up_for or old.makes_up_for if one.makes_up else None)


def _same_uid(one: SessionContent, old: SessionContent) -> bool:
    return one.uid == old.uid


def _same_time(one: SessionContent, old: SessionContent) -> bool:
    return _same_day(one, old) and one.start == old.start


def _same_day(one: SessionContent, old: SessionContent) -> bool:
    return _same_unit(one, old) and one.date == old.date


def _same_unit(one: SessionContent, old: SessionContent) -> bool:
    return one.key == old.key


def _shares_line(one: SessionContent, old: SessionContent) -> bool:
    return one.makes_up == old.makes_up and bool(set(one.lines) & set(old.lines))


def planner_sessions(week: WeekInput, sessions: Iterable[SessionContent]) -> tuple[Session, ...]:
    """The sessions as the planner knows them."""
    codes = {building.pk: code for code, building in week.buildings.items()}
    names = {pk: name for (_, name), pk in week.spaces.items()}
    return tuple(
        Session(
            unit=one.key,
            day=one.date.isoformat(),
            at=one.start,
            place=codes[one.building],
            space=names.get(one.space) if one.space is not None else None,
            minutes=one.end - one.start,
        )
        for one in sessions
    )


def plan_of_content(week: WeekInput, content: WeekContent) -> Itinerary:
    """A stored week as the itinerary that it is, to the minute; of a rest that is planned, the rest."""
    content = content if week.rest is None else week.rest.without_kept(content)
    codes = {building.pk: code for code, building in week.buildings.items()}
    sessions = planner_sessions(week, content.sessions)
    return Itinerary(
        tuple(
            DayPlan(day.id, tuple(_stored_day(week, day.id, sessions, content, codes))) for day in week.problem.days
        )
    )


def _stored_item(kind: ItemKind, one: ItemContent, codes: Mapping[int, str]) -> Item:
    to, drive = codes.get(one.building or 0), kind is ItemKind.DRIVE
    origin = codes.get(one.origin or 0) if drive else to
    return Item(kind, one.start, one.end, origin, to if drive else None, None, None, one.title, one.drive_minutes)


def _stored_day(
    week: WeekInput, day: str, sessions: Sequence[Session], content: WeekContent, codes: Mapping[int, str]
) -> list[Item]:
    kinds = {stored.value: kind for kind, stored in STORED.items()}
    found = [
        Item(ItemKind.SESSION, one.at, one.at + (one.minutes or 0), one.place, unit=one.unit, space=one.space)
        for one in sessions
        if one.day == day
    ]
    found += [_stored_item(kinds[one.kind], one, codes) for one in content.items if one.date.isoformat() == day]
    return sorted([*found, *_setups(week, found)], key=lambda item: (item.start, item.end))


def _setups(week: WeekInput, items: Sequence[Item]) -> list[Item]:
    """Setting up isn't stored: it is right before each session that follows another visit."""
    minutes = week.problem.setup_minutes
    visits = sorted(
        (item for item in items if item.kind in {ItemKind.SESSION, ItemKind.BLOCK}), key=lambda item: item.start
    )
    return [
        Item(ItemKind.SETUP, one.start - minutes, one.start, one.place)
        for one in visits[1:]
        if minutes and one.kind is ItemKind.SESSION
    ]


# ---- the rest of a week ----------------------------------------------------------------------------------


def content_of(week: WeekInput, sessions: Sequence[SessionContent], plan: Itinerary, told: Told) -> WeekContent:
    """The whole content of a week around these sessions, judged."""
    verdict = check(week.problem, plan)
    items = tuple(
        _item(week, dt.date.fromisoformat(day.day), item)
        for day in plan.days
        for item in day.items
        if item.kind in STORED
    )
    unplaced = _unplaced(week, sessions, told)
    return WeekContent(tuple(sessions), items, unplaced, _figures(week, sessions, items, unplaced, verdict, told))


def _item(week: WeekInput, date: dt.date, item: Item) -> ItemContent:
    origin = week.buildings.get(item.place or "")
    to = week.buildings.get(item.to_place or "") if item.kind is ItemKind.DRIVE else origin
    plain = ItemContent(
        date=date,
        kind=STORED[item.kind].value,
        start=item.start,
        end=item.end,
        building=to.pk if to else None,
        title=item.label,
    )
    if item.kind is not ItemKind.DRIVE or origin is None or to is None:
        return plain
    leg = week.drives.leg(origin.pk, to.pk)
    return replace(
        plain,
        origin=origin.pk,
        drive_minutes=item.drive_minutes,
        miles=str(leg.miles or Decimal(0)),
        source=leg.source.value,
    )


def _unplaced(week: WeekInput, sessions: Sequence[SessionContent], told: Told) -> tuple[UnplacedContent, ...]:
    served = Counter(line for one in sessions if not one.makes_up for line in one.lines)
    units = week.units.unit_of_line()
    found: list[UnplacedContent] = []
    for line, one in week.lines.items():
        missing = one.owed.sessions - served[line]
        if missing > 0:
            reasons, ask = _why(week, units[line], told)
            found.append(UnplacedContent(line, missing, missing * one.owed.minutes, reasons, ask))
    return tuple(found)


def _why(week: WeekInput, unit: str, told: Told) -> tuple[tuple[str, ...], str]:
    """Reasons in sentences, and whom it would help to ask."""
    reasons = [*week.info(unit).remarks, *told.reasons.get(unit, ())]
    return tuple(dict.fromkeys(reasons)) or (told.otherwise,), told.asks.get(unit, "")


def _figures(
    week: WeekInput,
    sessions: Sequence[SessionContent],
    items: Sequence[ItemContent],
    unplaced: Sequence[UnplacedContent],
    verdict: Verdict,
    told: Told,
) -> dict[str, Any]:
    stages = {stage.goal: stage for stage in told.stages}
    placed = sum(len(one.lines) * (one.end - one.start) for one in sessions)
    return {
        "goals": [_goal(goal, verdict.figures.of(goal), stages.get(goal)) for goal in week.problem.goals],
        "sessions": len(sessions),
        "minutes_placed": placed,
        "minutes_owed": placed + sum(one.minutes for one in unplaced),
        "miles": str(sum((Decimal(item.miles) for item in items), Decimal(0))),
        "broken": list(broken_rules(week, sessions, verdict)),
        "groups": [_group_sentence(week, one) for one in sessions if one.key.startswith("group-")],
        "notes": [*told.notes, *week.notes],
    }


def _group_sentence(week: WeekInput, one: SessionContent) -> str:
    when = f"{one.date:%A} {spoken((one.start, one.end))}"
    return f"{week.problem.name_of_unit(one.key)} are taken together, {when}."


def _goal(goal: Goal, value: int, stage: Stage | None) -> dict[str, Any]:
    return {
        "goal": goal.value,
        "value": value,
        "bound": stage.bound if stage else None,
        "status": stage.status.value if stage else "",
    }


# ---- broken rules ----------------------------------------------------------------------------------------


def broken_rules(week: WeekInput, sessions: Sequence[SessionContent], verdict: Verdict) -> tuple[str, ...]:
    """Hard rules that a week breaks, in sentences with marked codes."""
    misplacements = [why for one in sessions if (why := misplaced(week, one))]
    return tuple(dict.fromkeys([*rule_sentences(week, verdict.violations), *misplacements]))


def rule_sentences(week: WeekInput, violations: Sequence[Violation]) -> list[str]:
    """What the judge says of broken rules, one sentence a cause; where sessions may be is for ``misplaced``."""
    sentences: list[str] = []
    days = {day.id: day.label for day in week.problem.days}
    told = {violation.day for violation in violations if not _is_echo(violation)}
    for violation in violations:
        echo = _is_echo(violation) and violation.day in told
        if violation.rule != "only at its starts" and not echo:
            day = days.get(violation.day, "")
            sentences.append(f"{day}: {violation.text}" if day else violation.text)
    return sentences


FILLERS = ("setting up", "preparation", "free time")
"""What the judge calls the time between sessions."""


def _is_echo(violation: Violation) -> bool:
    """Whether it only says again, of what lies between sessions, what a sentence about a session says."""
    text = violation.text.lower()
    if violation.rule == "every move is driven":
        return text.endswith(("is reached without a drive.", "begins where the teacher is not."))
    if violation.rule != "one thing at a time":
        return False
    return text.startswith(FILLERS) or any(f"but {one} begins at" in text for one in FILLERS)


def misplaced(week: WeekInput, session: SessionContent) -> str:
    """Why a session can't be where it is by the rules outside the planner; empty where it can."""
    [planned] = planner_sessions(week, [session])
    problem = week.problem
    when = f"{session.date:%A} {spoken((session.start, session.end))}"
    if not problem.has_unit(session.key):
        return f"{codes_of(session.lines)}, {when}: this service isn't owed this week anymore."
    what = problem.name_of_unit(session.key)
    if session.date not in week.sources.dates:
        return f"{what}, {when}: this isn't a school day on which you work."
    unit = problem.unit(session.key)
    fits = any(
        (one.day, one.at, one.place, one.space) == (planned.day, planned.at, planned.place, planned.space)
        and (one.minutes or unit.minutes) == planned.minutes
        for one in unit.starts
    )
    if fits:
        return ""
    return f"{what}, {when}: {_elsewhere_text(week, session) or _barred_text(week, planned)}."


def _elsewhere_text(week: WeekInput, session: SessionContent) -> str:
    """Who of its students is with another teacher then; said first, whatever else is in the way."""
    span = (session.start, session.end)
    return "; ".join(
        f"{one.words(code)} (ask {one.teacher})"
        for student, code in week.info(session.key).students.items()
        for one in week.sources.elsewhere.get(student, ())
        if one.meets(session.date, span)
    )


def _bars_then(problem: Problem, planned: Session) -> Iterator[str]:
    """What bars a session's moment, and whom to ask."""
    services = {service.id: service for service in problem.services}
    for member in problem.members(planned.unit):
        for bar in services[member].barred:
            if (bar.day, bar.at, bar.place) == (planned.day, planned.at, planned.place):
                yield f"{bar.text} (ask {bar.ask})" if bar.ask else bar.text


def _barred_text(week: WeekInput, planned: Session) -> str:
    texts = list(_bars_then(week.problem, planned))
    same_time = [
        one for one in week.problem.unit(planned.unit).starts if (one.day, one.at) == (planned.day, planned.at)
    ]
    if texts:
        return texts[0]
    if same_time:
        spaces = sorted({one.space for one in same_time if one.space})
        return f"the space can't be used then (possible: {', '.join(spaces)})" if spaces else "no space is needed"
    return "the bells, the class's period, spaces or times kept free for the student don't allow it"


def codes_of(lines: Iterable[int]) -> str:
    """The students' marked codes of some lines, such as ``S01 + S02``."""
    rows = ServiceLine.objects.filter(pk__in=list(lines)).values_list("plan__student__code", flat=True)
    return " + ".join(marked(code) for code in sorted(rows)) or "A session"


def drive_minutes_of(plan: Itinerary) -> int:
    """Minutes at the wheel of a whole plan."""
    return sum(item.drive_minutes for day in plan.days for item in day.of_kind(ItemKind.DRIVE))
