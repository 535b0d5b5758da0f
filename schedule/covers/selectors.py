"""Reads of who stands in: the absence, its sessions, who could come, and who does."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from django.contrib.auth.models import AnonymousUser
from django.db.models import QuerySet

from accounts.dates import date_words, span_words
from accounts.errors import ApplicationError
from accounts.models import Person, Substitution, held_from
from accounts.selectors import today_of
from accounts.services import NOT_THERE
from schedule.calendar.happened import HappeningKind
from schedule.calendar.models import Happening
from schedule.happenings.selectors import sessions_during
from schedule.packet.models import PacketLink
from schedule.weeks.models import PlannedSession, WeekPlan

NOT_PLANNED = "a session that isn’t planned anymore"  # noqa: RUF001 -- as pages write it


def absence_get(viewer: Person, pk: int) -> Happening:
    """An absence that stands, of one's own or for a coordinator; raises `ApplicationError` (404) for any other."""
    rows = Happening.objects.visible_to(viewer).standing().filter(kind=HappeningKind.AWAY)
    row = rows.filter(pk=pk).select_related("teacher", "district").first()
    if row is None or not (viewer.is_coordinator or row.teacher_id == viewer.pk):
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    return row


def cover_get(viewer: Person, pk: int) -> Substitution:
    """Who stands in for oneself, or for a coordinator anybody; raises `ApplicationError` (404) for any other."""
    rows = covers_arranged(viewer)
    row = rows.filter(pk=pk).first()
    if row is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    return row


def absence_of(viewer: Person, cover: Substitution) -> Happening:
    """The absence for which a cover was arranged, else one on its days; `ApplicationError` (404) without."""
    rows = Happening.objects.visible_to(viewer).standing().filter(kind=HappeningKind.AWAY, teacher=cover.teacher)
    rows = rows.filter(first_date__lte=cover.last_date, last_date__gte=cover.first_date)
    row = rows.filter(covers=cover).first() or rows.first()
    if row is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    return absence_get(viewer, row.pk)


def covers_arranged(viewer: Person | AnonymousUser) -> QuerySet[Substitution]:
    """The covers that a person may arrange: of the own days, or all of the district's."""
    if not isinstance(viewer, Person):
        return Substitution.objects.none()
    rows = Substitution.objects.visible_to(viewer).select_related("substitute", "teacher")
    rows = rows.prefetch_related("sessions", "arranged_for").order_by("first_date", "pk")
    return rows if viewer.is_coordinator else rows.filter(teacher=viewer)


def covers_during(teacher: Person, first: dt.date, last: dt.date) -> QuerySet[Substitution]:
    """Who stands in for a teacher on any of some dates."""
    rows = Substitution.objects.filter(teacher=teacher, first_date__lte=last, last_date__gte=first)
    return rows.select_related("substitute", "teacher").prefetch_related("sessions")


def substitutes_of(viewer: Person) -> QuerySet[Person]:
    """Substitutes of the district with a sign-in."""
    now_or_later = held_from(today_of(viewer), Person.Role.SUBSTITUTE)
    return Person.objects.filter(now_or_later, district=viewer.district, is_active=True, by_link=False)


@dataclass(frozen=True, slots=True)
class CoverChoice:
    """A session that can be covered by itself. ``words`` name when and where, never a student."""

    uid: UUID
    date: dt.date
    words: str


def sessions_to_cover(viewer: Person, teacher: Person, first: dt.date, last: dt.date) -> list[CoverChoice]:
    """A teacher's sessions of weeks in force between two dates."""
    rows = [one for one in sessions_during(viewer, first, last) if one.week.teacher_id == teacher.pk]
    return [CoverChoice(one.uid, one.date, session_words(one)) for one in rows]


def session_words(one: PlannedSession) -> str:
    """When and where a session is, and of which class."""
    what = one.school_class.name if one.school_class else one.get_setting_display()
    return f"{one.date:%a}, {one.date:%b} {one.date.day}, {one.start:%-I:%M %p}: {what}, {one.building.name}"


def sessions_told(rows: Iterable[Substitution]) -> dict[int, list[str]]:
    """By cover the sessions that it is about alone, as `2026-10-05 08:30`; one that isn't planned by its uid."""
    named = {row.pk: [one.session_uid for one in row.sessions.all()] for row in rows}
    uids = {uid for some in named.values() for uid in some}
    planned = PlannedSession.objects.filter(uid__in=uids, week__status=WeekPlan.Status.PUBLISHED) if uids else ()
    words = {one.uid: session_time(one) for one in planned}
    return {pk: sorted(words.get(uid, str(uid)) for uid in some) for pk, some in named.items()}


def session_time(one: PlannedSession) -> str:
    """When a session is, as tables name it."""
    return f"{one.date.isoformat()} {one.start:%H:%M}"


@dataclass(frozen=True, slots=True)
class CoverView:
    """Who stands in, as lists show it. ``sessions``: the only ones, in words; none: the whole days.

    ``link``: the link by which they come, while there is one; ``opened``: how often it was opened.
    """

    pk: int
    name: str
    when: str
    sessions: tuple[str, ...]
    link_id: int | None
    opened: int
    may_change: bool


def covers_told(viewer: Person, rows: Iterable[Substitution]) -> list[CoverView]:
    """Covers in words; whoever arranges them may change them."""
    every = list(rows)
    links = _links(every)
    words = _session_words(viewer, every)
    mine = viewer.has_perm("cover.arrange")
    return [_told(one, links, words, may_change=mine) for one in every]


def _links(rows: Sequence[Substitution]) -> dict[int, PacketLink]:
    found = PacketLink.objects.filter(person__in=[one.substitute_id for one in rows]).prefetch_related("views")
    return {one.person_id: one for one in found if one.person_id is not None}


def _session_words(viewer: Person, rows: Sequence[Substitution]) -> dict[UUID, str]:
    if not any(one.sessions.all() for one in rows):
        return {}
    first, last = min(one.first_date for one in rows), max(one.last_date for one in rows)
    return {one.uid: session_words(one) for one in sessions_during(viewer, first, last)}


def _told(
    row: Substitution, links: Mapping[int, PacketLink], words: Mapping[UUID, str], *, may_change: bool
) -> CoverView:
    link = links.get(row.substitute_id)
    one_day = row.first_date == row.last_date
    uids = {one.session_uid for one in row.sessions.all()}
    named = (*(text for uid, text in words.items() if uid in uids), *(NOT_PLANNED for _ in uids - set(words)))
    return CoverView(
        pk=row.pk,
        name=row.substitute.called,
        when=date_words(row.first_date) if one_day else span_words(row.first_date, row.last_date),
        sessions=named,
        link_id=link.pk if link is not None else None,
        opened=len(link.views.all()) if link is not None else 0,
        may_change=may_change,
    )
