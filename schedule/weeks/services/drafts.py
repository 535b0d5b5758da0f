"""What every edit of a week does first and last: whose week it is, which revision, what it held, the new timing."""

from collections.abc import Sequence
from dataclasses import replace

from django.db.models import F

from accounts.errors import ApplicationError
from accounts.models import Person
from schedule.weeks.models import WeekPlan, WeekRevision
from schedule.weeks.planning.assemble import WeekInput
from schedule.weeks.planning.editing import edit_input, rearranged
from schedule.weeks.selectors.scope import week_require
from schedule.weeks.services.content import content_write
from schedule.weeks.versions.content import SessionContent, WeekContent, content_read, content_to_json

CHANGED = (
    "Somebody else changed this week in the meantime, so your change wasn't saved. Look at the week "
    "as it is now and try again."
)
STALE = (
    "Another version came into force after this draft was begun, and publishing it would undo that "
    "one. Discard this draft and make the change in the week in force."
)
NOT_EDITABLE = "This version was replaced or discarded. Edit the week in force, or bring this version back."


def revision_claim(week: WeekPlan, expected_revision: int, status: WeekPlan.Status) -> None:
    """Take the next revision; of two editors one wins.

    Raises ``ApplicationError`` (code ``changed_meanwhile``) unless the row still has this revision and status.
    """
    rows = WeekPlan.objects.filter(pk=week.pk, revision=expected_revision, status=status)
    if rows.update(revision=F("revision") + 1) != 1:
        raise ApplicationError(CHANGED, code="changed_meanwhile")
    week.refresh_from_db()


def row_again(week: WeekPlan) -> WeekPlan:
    """The row read again: what is set on it is lost with the transaction, and the caller's stays as it was."""
    return WeekPlan.objects.select_related("teacher", "district", "based_on").get(pk=week.pk)


def draft_open(actor: Person, week: WeekPlan, expected_revision: int) -> tuple[WeekPlan, WeekContent]:
    """A draft ready to be edited, and what it holds.

    A draft remembers its content for undo; a published week stays as it is, and the draft that was begun from it
    goes on, or one is made. (Of two drafts of one version only the first could be published.)
    """
    week_require(actor, week)
    week = row_again(week)
    content = content_read(week)
    if week.status == WeekPlan.Status.PUBLISHED:
        still = WeekPlan.objects.filter(
            pk=week.pk, revision=expected_revision, status=WeekPlan.Status.PUBLISHED
        ).exists()
        if not still:
            raise ApplicationError(CHANGED, code="changed_meanwhile")
        begun = draft_begun(week)
        if begun is None:
            return draft_copy(actor, week, content), content
        week, expected_revision = row_again(begun), begun.revision
        content = content_read(week)
    if week.status != WeekPlan.Status.DRAFT:
        raise ApplicationError(NOT_EDITABLE, code="not_editable")
    number = week.revision
    revision_claim(week, expected_revision, WeekPlan.Status.DRAFT)
    WeekRevision.objects.create(week=week, number=number, content=content_to_json(content), created_by=actor)
    return week, content


def draft_begun(week: WeekPlan) -> WeekPlan | None:
    """The draft that edits of a week have begun, if there is one."""
    drafts = WeekPlan.objects.filter(based_on=week, status=WeekPlan.Status.DRAFT)
    return drafts.order_by("-created_at", "-pk").first()


def draft_copy(actor: Person, week: WeekPlan, content: WeekContent, *, remember: bool = True) -> WeekPlan:
    """A draft with the same content, based on the week; the content as it was can be undone to."""
    draft = WeekPlan(
        district=week.district,
        teacher=week.teacher,
        monday=week.monday,
        last_date=week.last_date,
        based_on=week,
        created_by=actor,
        plan_run=None,
        revision=2 if remember else 1,
    )
    draft.full_clean(exclude=["figures", "changes"])
    draft.save()
    content_write(draft, content)
    if remember:
        WeekRevision.objects.create(week=draft, number=1, content=content_to_json(content), created_by=actor)
    return draft


def draft_save(
    draft: WeekPlan,
    loaded: WeekInput,
    content: WeekContent,
    sessions: Sequence[SessionContent],
    days: Sequence[str],
) -> WeekPlan:
    """Write the edited sessions to the draft, everything else worked out again."""
    content_write(draft, draft_checked(draft, loaded, content, sessions, days))
    return draft


def draft_checked(
    draft: WeekPlan,
    loaded: WeekInput,
    content: WeekContent,
    sessions: Sequence[SessionContent],
    days: Sequence[str] = (),
) -> WeekContent:
    """The draft's content with these sessions, the days named timed again.

    Rules that it breaks, and that the week in force from which it was made breaks by now as well, are told apart
    (``figures["no_longer_fits"]``): a drive was learned to take longer, bells changed. They are no fault of the
    draft's, and refusing them would hold back every other change of that week.
    """
    found = rearranged(loaded, content, sessions, frozenset(days))
    broken = broken_in(found)
    known = _broken_in_force(draft) if broken else frozenset()
    figures = {
        **(found.figures or {}),
        "broken": [one for one in broken if one not in known],
        "no_longer_fits": [one for one in broken if one in known],
    }
    return replace(found, figures=figures)


def broken_in(content: WeekContent) -> list[str]:
    """The rules that a week breaks, in sentences with marked codes."""
    return list((content.figures or {}).get("broken", []))


def _broken_in_force(draft: WeekPlan) -> frozenset[str]:
    """What the week in force that a draft was made from breaks as things are now."""
    before = draft.based_on
    if before is None or before.status != WeekPlan.Status.PUBLISHED:
        return frozenset()
    content = content_read(before)
    return frozenset(broken_in(rearranged(edit_input(before, content), content, content.sessions, frozenset())))


def session_or_404(content: WeekContent, uid: object) -> SessionContent:
    """The session of a uid; raises ``ApplicationError`` (404) if the week has none."""
    found = content.session(str(uid))
    if found is None:
        raise ApplicationError("There is no such session in this week.", code="not_found", status=404)
    return found
