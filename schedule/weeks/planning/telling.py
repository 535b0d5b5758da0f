"""Whom a change of a week concerns: the offices of the buildings, and the classes whose time it is."""

from collections.abc import Collection, Iterable, Iterator, Mapping

from caseload.plans.models import SchoolClass
from schedule.weeks.planning.outcome import with_uids
from schedule.weeks.planning.sources import ask_office
from schedule.weeks.question_data import TellView
from schedule.weeks.versions.content import SessionContent, WeekContent
from travel.places.models import Building


def whom_to_tell(before: WeekContent, after: WeekContent) -> tuple[TellView, ...]:
    """Each building in which sessions move, come or go; those that move within it count once."""
    return whom_to_tell_of_weeks([(before, after)])


def whom_to_tell_of_weeks(weeks: Iterable[tuple[WeekContent, WeekContent]]) -> tuple[TellView, ...]:
    """The same for several weeks together, each before and after (two queries)."""
    touched: dict[int, dict[tuple[int, str], SessionContent]] = {}
    for number, (before, after) in enumerate(weeks):
        for uid, one in _touched(before, after):
            touched.setdefault(one.building, {})[number, uid] = one
    buildings = Building.objects.filter(pk__in=touched).order_by("name", "pk")
    classes = _class_names(one for sessions in touched.values() for one in sessions.values())
    return tuple(_tell(building, touched[building.pk].values(), classes) for building in buildings)


def _touched(before: WeekContent, after: WeekContent) -> Iterator[tuple[str, SessionContent]]:
    """What moves, as it was and as it becomes, and what comes or goes; by uid."""
    old = {one.uid: one for one in before.sessions}
    new = {one.uid: one for one in with_uids(after.sessions, before)}
    for uid in dict.fromkeys([*old, *new]):
        for one in _changed([one for one in (old.get(uid), new.get(uid)) if one is not None]):
            yield uid, one


def _changed(mine: list[SessionContent]) -> list[SessionContent]:
    """A session before and after, if they differ or one of them isn't there."""
    return mine if len(mine) == 1 or _where(mine[0]) != _where(mine[1]) else []


def _tell(building: Building, sessions: Collection[SessionContent], classes: Mapping[int, str]) -> TellView:
    named = {classes[one.school_class] for one in sessions if one.school_class}
    return TellView(building.code, ask_office(building), len(sessions), tuple(sorted(named)))


def _where(one: SessionContent) -> tuple[object, ...]:
    return one.date, one.start, one.end, one.building, one.space


def _class_names(sessions: Iterable[SessionContent]) -> dict[int, str]:
    named = {one.school_class for one in sessions if one.school_class is not None}
    return dict(SchoolClass.objects.filter(pk__in=named).values_list("pk", "name"))
