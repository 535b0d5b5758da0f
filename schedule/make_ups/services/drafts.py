"""A new draft for a week that make-ups come into."""

import datetime as dt

from accounts.models import Person
from schedule.weeks.models import PlanRun, WeekPlan
from schedule.weeks.planning.load import district_of_teacher
from schedule.weeks.services.content import content_write
from schedule.weeks.versions.content import WeekContent

TO_SUNDAY = dt.timedelta(days=6)


def draft_new(
    actor: Person, teacher: Person, monday: dt.date, content: WeekContent, run: PlanRun | None
) -> WeekPlan:
    """A draft of a week that had none, with this content."""
    draft = WeekPlan(
        district=district_of_teacher(teacher),
        teacher=teacher,
        monday=monday,
        last_date=monday + TO_SUNDAY,
        created_by=actor,
        plan_run=run,
    )
    draft.full_clean(exclude=["figures", "changes"])
    draft.save()
    content_write(draft, content)
    return draft
