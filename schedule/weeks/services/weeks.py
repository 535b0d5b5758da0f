"""Writes to planned weeks: edits by hand, publishing, bringing back.

A published version is never edited: the first edit makes a draft based on it. A draft may break hard rules while it
is being worked on (``figures["broken"]`` says which, in sentences); publishing such a draft is refused.
"""

import datetime as dt
import uuid as uuid_lib
from dataclasses import replace

from django.db import transaction
from django.db.models import F, Max
from django.utils import timezone

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import audit_write
from caseload.plans.models import ServiceLine
from caseload.plans.names import student_names
from schedule.calendar.selectors.school_days import minutes_of
from schedule.calendar.words import week_words
from schedule.weeks.models import UnplacedSession, WeekPlan, WeekRevision
from schedule.weeks.planning.assemble import WeekInput
from schedule.weeks.planning.editing import edit_input, rearranged, with_session
from schedule.weeks.planning.outcome import dated, with_uids
from schedule.weeks.selectors.scope import week_require
from schedule.weeks.services.content import content_write
from schedule.weeks.services.drafts import (
    STALE,
    broken_in,
    draft_checked,
    draft_copy,
    draft_open,
    draft_save,
    revision_claim,
    row_again,
    session_or_404,
)
from schedule.weeks.services.publishing import (
    not_in_force_before,
    others_require_clear,
    publishing,
    without_clashes,
)
from schedule.weeks.services.rest import rest_require_ahead
from schedule.weeks.signals import week_in_force
from schedule.weeks.versions.compare import differences, labels_of
from schedule.weeks.versions.content import (
    SessionContent,
    WeekContent,
    content_from_json,
    content_read,
    lines_become,
    lines_in,
)
from schedule.weeks.versions.history import content_in_force
from travel.places.models import Space

Status = WeekPlan.Status


def week_session_move(
    *,
    actor: Person,
    week: WeekPlan,
    uid: uuid_lib.UUID | str,
    date: dt.date,
    start: dt.time,
    space: Space | None = None,
    expected_revision: int,
) -> WeekPlan:
    """Move a session to another date and time of the week; returns the draft.

    Without a space it keeps its own where that is possible then, else it gets one that is.
    """
    with transaction.atomic():
        draft, content = draft_open(actor, week, expected_revision)
        session = session_or_404(content, uid)
        _require_in_week(draft, date)
        loaded = edit_input(draft, content)
        at = minutes_of(start)
        moved = replace(session, date=date, start=at, end=_end(at, session.end - session.start))
        moved = dated(loaded, replace(moved, space=_space_for(loaded, moved, space)))
        touched = (session.date.isoformat(), date.isoformat())
        draft_save(draft, loaded, content, with_session(content, moved), touched)
        before = f"{session.date} {session.start}"
        _audit(actor, "week_session_move", draft, session.uid, before, f"{date} {at}")
    return draft


def week_session_pin(
    *, actor: Person, week: WeekPlan, uid: uuid_lib.UUID | str, pinned: bool, expected_revision: int
) -> WeekPlan:
    """Pin a session (planning again leaves it where it is) or let it go; returns the draft."""
    with transaction.atomic():
        draft, content = draft_open(actor, week, expected_revision)
        session = session_or_404(content, uid)
        changed = replace(content, sessions=tuple(with_session(content, replace(session, pinned=pinned))))
        content_write(draft, changed)
        _audit(actor, "week_session_pin", draft, session.uid, session.pinned, pinned)
    return draft


def week_session_remove(
    *, actor: Person, week: WeekPlan, uid: uuid_lib.UUID | str, expected_revision: int
) -> WeekPlan:
    """Take a session out: it is owed still and stands among the unplaced; returns the draft."""
    with transaction.atomic():
        draft, content = draft_open(actor, week, expected_revision)
        session = session_or_404(content, uid)
        loaded = edit_input(draft, content)
        left = [one for one in content.sessions if one.uid != session.uid]
        draft_save(draft, loaded, content, left, [session.date.isoformat()])
        _audit(actor, "week_session_remove", draft, session.uid, f"{session.date} {session.start}", None)
    return draft


def week_session_place(
    *,
    actor: Person,
    week: WeekPlan,
    unplaced: UnplacedSession,
    date: dt.date,
    start: dt.time,
    space: Space | None = None,
    expected_revision: int,
) -> WeekPlan:
    """Place one of the unplaced sessions by hand (a class with everyone in it who owes one); returns the draft."""
    if unplaced.week_id != week.pk:
        raise ApplicationError("This isn't among this week's unplaced sessions.", code="not_found", status=404)
    line = unplaced.service_line_id
    with transaction.atomic():
        draft, content = draft_open(actor, week, expected_revision)
        _require_in_week(draft, date)
        loaded = edit_input(draft, content)
        placed = _new_session(loaded, content, line, date, minutes_of(start), space)
        draft_save(draft, loaded, content, [*content.sessions, placed], [date.isoformat()])
        _audit(actor, "week_session_place", draft, placed.uid, None, f"{date} {placed.start}")
    return draft


def week_edit_undo(*, actor: Person, week: WeekPlan, expected_revision: int) -> WeekPlan:
    """Take back the last edit of a draft; raises ``ApplicationError`` where there is none."""
    week_require(actor, week)
    with transaction.atomic():
        week = row_again(week)
        if week.status != Status.DRAFT:
            raise ApplicationError("Only edits of a draft can be undone.", code="not_editable")
        revision_claim(week, expected_revision, Status.DRAFT)
        last = WeekRevision.objects.filter(week=week).order_by("-number").first()
        if last is None:
            raise ApplicationError("There is no edit to undo.", code="nothing_to_undo")
        content_write(week, _still_served(content_from_json(last.content)))
        last.delete()
        _audit(actor, "week_edit_undo", week, "revision", expected_revision, week.revision)
    return week


def _still_served(content: WeekContent) -> WeekContent:
    """Without services that were deleted since: undoing an edit brings no service back."""
    named = lines_in(content)
    there = set(ServiceLine.objects.filter(pk__in=named).values_list("pk", flat=True))
    return lines_become(content, dict.fromkeys(named - there))


def week_publish(
    *,
    actor: Person,
    week: WeekPlan,
    expected_revision: int,
    leave_out: bool = False,
    now: dt.datetime | None = None,
) -> WeekPlan:
    """Put a draft in force as the next version; the version before becomes a replaced one.

    With ``leave_out``, sessions that other teachers' weeks in force rule out are left unplaced.

    Refused with the sentences (code ``rules_broken``) while the draft breaks hard rules that the week in force,
    from which it was made, doesn't break by now as well (``figures["no_longer_fits"]``); (codes
    ``student_in_two_places``, ``class_in_two_places``, ``space_taken``) where another teacher's week in force has a
    student, a class or a space then; and (code ``changed_meanwhile``) if the version that it was made from is no
    longer in force. A draft of the rest of a week is refused (code ``gone_by``) once it would change what has begun
    ``now``.
    """
    week_require(actor, week)
    with publishing(week.district):
        week = row_again(week)
        if week.status != Status.DRAFT:
            raise ApplicationError("Only a draft can be published.", code="not_editable")
        revision_claim(week, expected_revision, Status.DRAFT)
        if week.based_on is not None and week.based_on.status != Status.PUBLISHED:
            raise ApplicationError(STALE, code="changed_meanwhile")
        content = content_read(week)
        if leave_out:
            content = without_clashes(actor, week, content)
        rest_require_ahead(week, content, content_in_force(week.teacher, week.monday), now)
        others_require_clear(actor, week.teacher, content.sessions)
        checked = draft_checked(week, edit_input(week, content), content, content.sessions)
        broken = broken_in(checked)
        if broken:
            raise ApplicationError(
                "This draft breaks rules that must be kept. Fix that first. "
                + student_names(actor).told(" ".join(broken)),
                code="rules_broken",
            )
        # The bounds that the search proved still belong to the plan as long as its timing is the same.
        same = _timing(checked) == _timing(content) and not (checked.figures or {}).get("no_longer_fits")
        week_put_in_force(actor, week, content if same else checked)
        _audit(actor, "week_publish", week, "version", None, week.version)
    return week


def week_restore(*, actor: Person, week: WeekPlan) -> WeekPlan:
    """Bring a version back as a new one: the one before the week in force, or ``week`` if it was replaced.

    What no longer fits since then is listed under ``figures["broken"]``; it was in force once, so it isn't refused,
    but where another teacher's week in force has a student, a class or a space then (codes as in publishing).
    """
    week_require(actor, week)
    with publishing(week.district):
        source = _version_to_restore(week)
        content = content_read(source)
        draft = draft_copy(actor, source, content, remember=False)
        checked = rearranged(edit_input(draft, content), content, content.sessions, frozenset())
        week_put_in_force(actor, draft, checked)
        _audit(actor, "week_restore", draft, "version", source.version, draft.version)
    return draft


def week_discard(*, actor: Person, week: WeekPlan) -> WeekPlan:
    """Set a draft aside; it stays readable."""
    week_require(actor, week)
    with transaction.atomic():
        rows = WeekPlan.objects.filter(pk=week.pk, status=Status.DRAFT)
        if rows.update(status=Status.DISCARDED, revision=F("revision") + 1) != 1:
            raise ApplicationError("Only a draft can be discarded.", code="not_editable")
        week.refresh_from_db()
        _audit(actor, "week_discard", week, "status", Status.DRAFT, Status.DISCARDED)
    return week


# ---- helpers ---------------------------------------------------------------------------------------------


def _require_in_week(week: WeekPlan, date: dt.date) -> None:
    if not week.monday <= date <= week.last_date:
        raise ApplicationError(f"{date_words(date)} isn't in {week_words(week.monday)}.", code="other_week")


def _end(start: int, minutes: int) -> int:
    if start + minutes >= 24 * 60:
        raise ApplicationError("The session would run past midnight. Start it earlier.", code="past_midnight")
    return start + minutes


def _space_for(loaded: WeekInput, session: SessionContent, wanted: Space | None) -> int | None:
    if wanted is not None:
        if wanted.building_id != session.building:
            raise ApplicationError("This space is in another building.", code="other_building")
        return wanted.pk
    if not loaded.problem.has_unit(session.key):
        return session.space
    starts = loaded.problem.unit(session.key).starts
    possible = [
        loaded.spaces.get((one.place, one.space or ""))
        for one in starts
        if (one.day, one.at) == (session.date.isoformat(), session.start)
    ]
    return session.space if session.space in possible or not possible else possible[0]


def _new_session(
    loaded: WeekInput, content: WeekContent, line: int, date: dt.date, at: int, space: Space | None
) -> SessionContent:
    key = loaded.units.unit_of_line().get(line)
    if key is None:
        raise ApplicationError("This service isn't owed this week anymore.", code="not_owed")
    info = loaded.info(key)
    waiting = {one.line for one in content.unplaced}
    session = SessionContent(
        uid=str(uuid_lib.uuid4()),
        date=date,
        start=at,
        end=_end(at, loaded.problem.unit(key).minutes),
        building=info.building,
        key=key,
        setting=info.setting,
        lines=tuple(one for one in info.lines if one in waiting),
        school_class=info.school_class,
        students_from=info.students_from,
    )
    return dated(loaded, replace(session, space=_space_for(loaded, session, space)))


def _timing(content: WeekContent) -> set[tuple[object, ...]]:
    return {
        (one.date, one.kind, one.start, one.end, one.origin, one.building, one.drive_minutes)
        for one in content.items
    }


def week_put_in_force(actor: Person, week: WeekPlan, content: WeekContent) -> None:
    """Make a draft the next version; its sessions keep the uids that they have in the version before.

    Call it inside ``publishing``. Raises ``ApplicationError`` (codes as in ``week_publish``) for sessions that are
    new in force and can't be held beside other teachers' weeks in force.
    """
    before = content_in_force(week.teacher, week.monday)
    others_require_clear(actor, week.teacher, not_in_force_before(content.sessions, before))
    continued = replace(content, sessions=with_uids(content.sessions, before))
    versions = WeekPlan.objects.filter(teacher=week.teacher, monday=week.monday)
    versions.filter(status=Status.PUBLISHED).update(status=Status.REPLACED, revision=F("revision") + 1)
    week.version = (versions.aggregate(last=Max("version"))["last"] or 0) + 1
    week.status = Status.PUBLISHED
    week.published_by = actor
    week.published_at = timezone.now()
    changes = differences(before, continued, labels_of(before, continued)).sentences if before else ()
    week.changes = list(changes) or ["First version of this week." if before is None else "Nothing moved."]
    week.full_clean(exclude=["figures", "changes"])
    week.save()
    content_write(week, continued)
    WeekRevision.objects.filter(week=week).delete()
    week_in_force.send(WeekPlan, week=week)


def _version_to_restore(week: WeekPlan) -> WeekPlan:
    if week.status == Status.REPLACED:
        return week
    earlier = WeekPlan.objects.filter(
        teacher=week.teacher, monday=week.monday, status=Status.REPLACED, version__lt=week.version or 0
    )
    found = earlier.order_by("-version").first()
    if found is None:
        raise ApplicationError("There is no version before this one to bring back.", code="no_version_before")
    return found


def _audit(actor: Person, action: str, week: WeekPlan, field: str, before: object, after: object) -> None:
    audit_write(actor=actor, district=week.district, action=action, row=week, changes={field: [before, after]})
