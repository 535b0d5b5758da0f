"""What publishing a draft would meet: others' weeks in force, which refuse it, and their drafts."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Q

from accounts.models import Person
from schedule.weeks.models import WeekPlan
from schedule.weeks.planning.others.clashes import OthersClash, clashes_with_others, ways_out
from schedule.weeks.planning.others.under_way import drafts_under_way
from schedule.weeks.versions.content import WeekContent, content_read


@dataclass(frozen=True, slots=True)
class OthersAhead:
    """``in_force`` keep a draft from being published as it is, and ``ways_out`` says what can be done about them.

    ``drafts`` take nobody's time yet: whoever publishes first has it. ``sessions`` would be left out.
    """

    in_force: tuple[OthersClash, ...] = ()
    drafts: tuple[OthersClash, ...] = ()
    ways_out: str = ""
    sessions: int = 0


def others_ahead(viewer: Person, week: WeekPlan) -> OthersAhead:
    """For a draft that the viewer has got; of any other version nothing is ahead."""
    if week.status != WeekPlan.Status.DRAFT:
        return OthersAhead()
    content = content_read(week)
    found = tuple(clashes_with_others(viewer, week.teacher, content.sessions))
    drafts = tuple(drafts_met(viewer, week.teacher, [content]))
    return OthersAhead(found, drafts, ways_out(found) if found else "", len({one.uid for one in found}))


def drafts_met(viewer: Person | None, teacher: Person, weeks: Iterable[WeekContent]) -> list[OthersClash]:
    """What of a teacher's weeks meets drafts that others are at work on."""
    sessions = [one for week in weeks for one in week.sessions]
    mondays = {one.date - dt.timedelta(days=one.date.weekday()) for one in sessions}
    drafts = drafts_under_way(teacher, mondays) if sessions else []
    if not drafts:
        return []
    return clashes_with_others(viewer, teacher, sessions, Q(session__week__in=drafts))
