"""What publishing a term would change: weeks in force that it replaces, whom to tell, what stands against it."""

from collections.abc import Iterator, Sequence

from accounts.models import Person
from schedule.terms.ahead_data import TermAheadView, WeekReplacedView
from schedule.terms.models import TermPlan
from schedule.weeks.models import WeekPlan
from schedule.weeks.planning.others.ahead import drafts_met
from schedule.weeks.planning.others.clashes import OthersClash, clashes_with_others
from schedule.weeks.planning.telling import whom_to_tell_of_weeks
from schedule.weeks.versions.compare import differences, labels_of
from schedule.weeks.versions.content import SessionContent, WeekContent, sessions_read
from schedule.weeks.versions.standing import standing_in_force

Status = WeekPlan.Status


def term_ahead(viewer: Person, term: TermPlan) -> TermAheadView:
    """For a term that the viewer has got; without drafts nothing is left to publish.

    Each week is judged once more when it is published: this reads what is known of the drafts by now.
    """
    teacher = term.run.teacher
    drafts = list(WeekPlan.objects.filter(plan_run=term.run, status=Status.DRAFT).order_by("monday"))
    if not drafts:
        return TermAheadView()
    pairs, sessions = _pairs(teacher, drafts)
    standing = standing_in_force(teacher, drafts[0].monday)
    other = standing if standing is not None and standing.pk != term.standing_id else None
    return TermAheadView(
        drafts=len(drafts),
        empty=len(drafts) - len(pairs),
        replaced=tuple(_replaced(pairs)),
        tell=whom_to_tell_of_weeks([(before, after) for _, before, after in pairs]),
        two_places=_words(clashes_with_others(viewer, teacher, sessions)),
        drafts_met=_words(drafts_met(viewer, teacher, [WeekContent(tuple(sessions))])),
        broken=tuple(week.monday for week in drafts if week.figures.get("broken")),
        first_day=other.first_day if other else None,
        last_day=other.last_day if other else None,
    )


def _words(found: Sequence[OthersClash]) -> tuple[str, ...]:
    return tuple(one.words for one in found)


type _Pair = tuple[WeekPlan, WeekContent, WeekContent]
"""A draft, the week in force that it would replace, and what it would be then."""


def _pairs(teacher: Person, drafts: Sequence[WeekPlan]) -> tuple[list[_Pair], list[SessionContent]]:
    """What the drafts replace, and all of their sessions; read for all weeks at once."""
    mondays = [week.monday for week in drafts]
    rows = WeekPlan.objects.filter(teacher=teacher, status=Status.PUBLISHED, monday__in=mondays)
    in_force = {week.monday: week.pk for week in rows}
    sessions = sessions_read([*(week.pk for week in drafts), *in_force.values()])
    pairs = [
        (week, WeekContent(sessions[in_force[week.monday]]), WeekContent(sessions[week.pk]))
        for week in drafts
        if week.monday in in_force
    ]
    return pairs, [one for week in drafts for one in sessions[week.pk]]


def _replaced(pairs: Sequence[_Pair]) -> Iterator[WeekReplacedView]:
    labels = labels_of(*(content for _, *contents in pairs for content in contents))
    for week, before, after in pairs:
        found = differences(before, after, labels)
        counts = len(found.moved), len(found.added), len(found.removed), found.same
        yield WeekReplacedView(week.monday, week.pk, *counts)
