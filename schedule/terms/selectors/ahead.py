"""What publishing a term would change: weeks in force that it replaces, whom to tell, what stands against it."""

from accounts.models import Person
from schedule.terms.ahead_data import TermAheadView, WeekReplacedView
from schedule.terms.models import TermPlan
from schedule.weeks.models import WeekPlan
from schedule.weeks.planning.telling import whom_to_tell_of_weeks
from schedule.weeks.selectors.two_places import in_two_places
from schedule.weeks.versions.compare import differences, labels_of
from schedule.weeks.versions.content import WeekContent, sessions_read
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
    mondays = [week.monday for week in drafts]
    rows = WeekPlan.objects.filter(teacher=teacher, status=Status.PUBLISHED, monday__in=mondays)
    in_force = {week.monday: week for week in rows}
    sessions = sessions_read([week.pk for week in (*drafts, *in_force.values())])
    contents = {pk: WeekContent(found) for pk, found in sessions.items()}
    pairs = [(contents[in_force[one.monday].pk], one) for one in drafts if one.monday in in_force]
    labels = labels_of(*(contents[week.pk] for _, week in pairs), *(before for before, _ in pairs))
    replaced = []
    for before, week in pairs:
        found = differences(before, contents[week.pk], labels)
        counts = len(found.moved), len(found.added), len(found.removed), found.same
        replaced.append(WeekReplacedView(week.monday, week.pk, *counts))
    standing = standing_in_force(teacher, mondays[0])
    other = standing if standing is not None and standing.pk != term.standing_id else None
    return TermAheadView(
        drafts=len(drafts),
        empty=len(drafts) - len(pairs),
        replaced=tuple(replaced),
        tell=whom_to_tell_of_weeks([(before, contents[week.pk]) for before, week in pairs]),
        two_places=tuple(in_two_places(viewer, teacher, [one for week in drafts for one in sessions[week.pk]])),
        broken=tuple(week.monday for week in drafts if week.figures.get("broken")),
        first_day=other.first_day if other else None,
        last_day=other.last_day if other else None,
    )
