"""Writes of who stands in: arranged from an absence, changed, ended, and what that would do.

Somebody comes either from the district's substitutes (`substitute`), or by a link that ends by itself (`called`,
the name that is logged). `sessions` are uids of planned sessions; none: the whole days. Each raises
`ValidationError` by field, or `ApplicationError` (403 for the role, 404 for what is out of sight).
"""

import datetime as dt
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import Person, Substitution
from accounts.people.services import cover_delete, cover_save, link_person_make
from accounts.selectors import today_of
from accounts.services import NOT_THERE, permission_require
from schedule.calendar.happened import HappeningKind
from schedule.calendar.models import Happening
from schedule.covers.selectors import covers_during, sessions_to_cover, substitutes_of
from schedule.happenings.effects import HappeningEffects
from schedule.happenings.services.foreseeing import DayPicture, effects_since
from schedule.happenings.services.logged import absences_log_again
from schedule.packet.models import PacketLink
from schedule.packet.selectors import MOST_DAYS
from schedule.packet.services import packet_link_make, packet_link_renew

ARRANGE = "cover.arrange"
WHO = "Choose a substitute, or give the name of somebody who comes by a link."
NOT_LISTED = "Choose one from the list of the district's substitutes."
NOT_BOTH = "Choose a substitute or give a name, not both."
OUTSIDE = "Stay within the absence, {first} to {last}."
OVER = "These days are over: a link would open nothing. Choose days from today on."
NOT_PLANNED = "A session isn't among those of these days anymore. Choose again."
BUSY = "{name} stands in for {teacher} from {first} to {last}. Choose somebody else, or other days."
TAKEN = "{name} stands in already from {first} to {last}. Change that, or choose other days or sessions."
LINK_DAYS = "The link holds from {first} to {last}. For other days arrange another one."
LINK_AHEAD = "Somebody without a sign-in comes by a link, which is shown once: arrange it at the absence."
TOO_LONG = f"A link holds for {MOST_DAYS} days at most. Arrange another one for the days after."


@dataclass(frozen=True, slots=True)
class CoverWanted:
    """Who is to stand in, when, and for which sessions; days left out are those of the absence."""

    substitute: Person | None = None
    called: str = ""
    first_date: dt.date | None = None
    last_date: dt.date | None = None
    sessions: frozenset[UUID] = frozenset()

    def during(self, absence: Happening) -> tuple[dt.date, dt.date]:
        """From when to when."""
        return self.first_date or absence.first_date, self.last_date or absence.last_date


@dataclass(frozen=True, slots=True)
class Arranged:
    """What was arranged; with the link and its secret, which can't be read again, where somebody comes by one."""

    cover: Substitution
    link: PacketLink | None = None
    secret: str = ""


def cover_arrange(
    *, actor: Person, absence: Happening, wanted: CoverWanted, now: dt.datetime | None = None
) -> Arranged:
    """Somebody stands in during an absence: those sessions are held after all, and whoever it concerns is told.

    What was logged as missed for them is withdrawn where nobody has changed it. It goes with the absence.
    """
    permission_require(actor, ARRANGE)
    teacher = _teacher_of(actor, absence)
    first, last = wanted.during(absence)
    _wanted_require(actor, absence, teacher, wanted)
    with transaction.atomic():
        substitute = wanted.substitute or link_person_make(actor=actor, name=wanted.called)
        values = {"substitute": substitute, "teacher": teacher, "first_date": first, "last_date": last}
        cover = cover_save(actor=actor, row=Substitution(), values=values, sessions=wanted.sessions)
        absence.covers.add(cover)
        absences_log_again(teacher=teacher, first=first, last=last, now=now)
        if not substitute.by_link:
            return Arranged(cover)
        link, secret = packet_link_make(
            actor=actor, teacher=teacher, first=first, last=last, label=substitute.called, person=substitute,
            now=now or timezone.now(),
        )  # fmt: skip
    return Arranged(cover, link, secret)


def cover_change(
    *, actor: Person, cover: Substitution, wanted: CoverWanted, now: dt.datetime | None = None
) -> Substitution:
    """Somebody else, other days, or other sessions. Who comes by a link stays, within the days of the link."""
    permission_require(actor, ARRANGE)
    _cover_mine(actor, cover)
    link = PacketLink.objects.filter(person=cover.substitute_id).first()
    was = (cover.first_date, cover.last_date)
    first, last = wanted.first_date or was[0], wanted.last_date or was[1]
    if link is not None and not link.first_date <= first <= last <= link.last_date:
        raise ValidationError({"last_date": _said(LINK_DAYS, link.first_date, link.last_date)})
    if link is None:
        _listed_require(actor, wanted.substitute)
    substitute = cover.substitute if link is not None else wanted.substitute or cover.substitute
    _free_require(cover.teacher, substitute, first, last, wanted.sessions, but=cover)
    _sessions_require(actor, cover.teacher, first, last, wanted.sessions)
    with transaction.atomic():
        values = {"substitute": substitute, "first_date": first, "last_date": last}
        cover_save(actor=actor, row=cover, values=values, sessions=wanted.sessions)
        absences_log_again(teacher=cover.teacher, first=min(first, was[0]), last=max(last, was[1]), now=now)
    return cover


def cover_end(*, actor: Person, cover: Substitution, now: dt.datetime | None = None) -> None:
    """Nobody comes after all: the sessions fall out again, and a link opens nothing anymore."""
    permission_require(actor, ARRANGE)
    _cover_mine(actor, cover)
    with transaction.atomic():
        teacher, first, last = cover.teacher, cover.first_date, cover.last_date
        cover_delete(actor=actor, row=cover)
        absences_log_again(teacher=teacher, first=first, last=last, now=now)


def cover_address_renew(*, actor: Person, cover: Substitution, now: dt.datetime | None = None) -> str:
    """Another address for somebody who comes by a link; the one before opens nothing. Returns its secret."""
    permission_require(actor, ARRANGE)
    _cover_mine(actor, cover)
    link = PacketLink.objects.filter(person=cover.substitute_id).first()
    if link is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    return packet_link_renew(actor=actor, link=link, now=now or timezone.now())


def cover_bring(
    *,
    actor: Person,
    row: Substitution,
    values: Mapping[str, Any],
    sessions: Collection[UUID] = (),
    called: str = "",
) -> Substitution:
    """Save who stands in as a table says it: `substitute`, or the name of somebody who came by a link.

    A link's secret is shown once, so for days to come it is arranged at the absence. The log isn't touched here:
    who saves the table says afterwards what changed (`accounts.people.signals.substitution_changed`).
    """
    permission_require(actor, ARRANGE)
    teacher, first, last = values["teacher"], values["first_date"], values["last_date"]
    if called and last >= today_of(actor):
        raise ValidationError({"called": LINK_AHEAD})
    _free_require(teacher, values.get("substitute"), first, last, sessions, but=row if row.pk else None)
    with transaction.atomic():
        wanted = {**values, "substitute": link_person_make(actor=actor, name=called)} if called else values
        return cover_save(actor=actor, row=row, values=wanted, sessions=sessions)


def cover_foresee(*, actor: Person, absence: Happening, act: Callable[[], object]) -> HappeningEffects:
    """What arranging, changing or ending would do, found by doing it: nothing of it is saved."""
    with transaction.atomic():
        before = DayPicture(actor, absence.first_date, absence.last_date)
        act()
        found = effects_since(actor, absence, before)
        transaction.set_rollback(True)
    return found


# ---- what is refused -------------------------------------------------------------------------------------


def _teacher_of(actor: Person, absence: Happening) -> Person:
    """Whose absence it is: one's own, or for a coordinator anybody's."""
    seen = Happening.objects.changeable_by(actor).standing().filter(pk=absence.pk, kind=HappeningKind.AWAY).exists()
    if not seen or absence.teacher is None or not (actor.is_coordinator or absence.teacher_id == actor.pk):
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    return absence.teacher


def _cover_mine(actor: Person, cover: Substitution) -> None:
    seen = Substitution.objects.changeable_by(actor).filter(pk=cover.pk).exists()
    if not seen or not (actor.is_coordinator or cover.teacher_id == actor.pk):
        raise ApplicationError(NOT_THERE, code="not_found", status=404)


def _wanted_require(actor: Person, absence: Happening, teacher: Person, wanted: CoverWanted) -> None:
    first, last = wanted.during(absence)
    if not (absence.first_date <= first and last <= absence.last_date):
        raise ValidationError({"last_date": _said(OUTSIDE, absence.first_date, absence.last_date)})
    _who_require(actor, wanted)
    if wanted.called:
        _link_require(first, last, today_of(actor))
    _free_require(teacher, wanted.substitute, first, last, wanted.sessions)
    _sessions_require(actor, teacher, first, last, wanted.sessions)


def _who_require(actor: Person, wanted: CoverWanted) -> None:
    if wanted.substitute is None and not wanted.called.strip():
        raise ValidationError({"substitute": WHO})
    if wanted.substitute is not None and wanted.called.strip():
        raise ValidationError({"called": NOT_BOTH})
    _listed_require(actor, wanted.substitute)


def _listed_require(actor: Person, substitute: Person | None) -> None:
    if substitute is not None and not substitutes_of(actor).filter(pk=substitute.pk).exists():
        raise ValidationError({"substitute": NOT_LISTED})


def _link_require(first: dt.date, last: dt.date, today: dt.date) -> None:
    if last < today:
        raise ValidationError({"last_date": OVER})
    if (last - first).days >= MOST_DAYS:
        raise ValidationError({"last_date": TOO_LONG})


def _free_require(
    teacher: Person,
    substitute: Person | None,
    first: dt.date,
    last: dt.date,
    sessions: Collection[UUID],
    but: Substitution | None = None,
) -> None:
    """Nobody gives these sessions already, and the substitute has no other teacher's days then."""
    kept = [] if but is None else [but.pk]
    for one in covers_during(teacher, first, last).exclude(pk__in=kept):
        named = {each.session_uid for each in one.sessions.all()}
        if not named or not sessions or named & set(sessions):
            raise ValidationError(
                {"substitute": _said(TAKEN, one.first_date, one.last_date, name=one.substitute.called)}
            )
    others = Substitution.objects.filter(substitute=substitute, first_date__lte=last, last_date__gte=first)
    for one in others.exclude(teacher=teacher).select_related("teacher").prefetch_related("sessions"):
        if not sessions or not one.sessions.all():
            told = _said(BUSY, one.first_date, one.last_date, name=str(substitute), teacher=str(one.teacher))
            raise ValidationError({"substitute": told})


def _sessions_require(
    actor: Person, teacher: Person, first: dt.date, last: dt.date, sessions: Collection[UUID]
) -> None:
    planned = {one.uid for one in sessions_to_cover(actor, teacher, first, last)} if sessions else set()
    if set(sessions) - planned:
        raise ValidationError({"sessions": NOT_PLANNED})


def _said(text: str, first: dt.date, last: dt.date, **more: str) -> str:
    return text.format(first=date_words(first), last=date_words(last), **more)
