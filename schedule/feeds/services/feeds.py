"""Writes to feeds: add one for a device, give it a new address, choose what it shows, stop it.

An address holds 32 random bytes behind a fixed prefix. It is handed out once and kept as its SHA-256 only, so that
nobody can read it out of the database; whoever has lost it asks for a new one, and the old one ends at once: what
it answers from then on is an emptied calendar, for two weeks.
"""

import datetime as dt
import hashlib
import secrets
from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import District, Person, Substitution
from accounts.services import NOT_LISTED, NOT_THERE, audit_write, permission_require
from accounts.validation import row_validate
from caseload.access.models import Access
from caseload.access.services import access_record
from caseload.plans.models import SchoolClass
from schedule.feeds.build import EMPTY_AFTER_END
from schedule.feeds.models import Feed, FeedBody, FormerAddress
from schedule.feeds.services.versions import feeds_touch
from schedule.weeks.selectors.pages import district_today
from travel.places.models import Building

# Fixed, so that a program that looks for secrets in texts can know an address by it.
PREFIX = "mmfeed_"
SECRET_BYTES = 32
NOTE_AGAIN = dt.timedelta(hours=1)
KINDS_BY_ROLE: Mapping[str, tuple[Feed.Kind, ...]] = {
    Person.Role.TEACHER: (Feed.Kind.TEACHER, Feed.Kind.BUILDING, Feed.Kind.CLASS),
    Person.Role.COORDINATOR: (Feed.Kind.BUILDING, Feed.Kind.CLASS),
    Person.Role.OFFICE: (Feed.Kind.BUILDING,),
    Person.Role.SUBSTITUTE: (Feed.Kind.SUBSTITUTE,),
}
OPTIONS = (
    "label", "drives", "alarm_minutes", "leave_alarm_minutes", "says_setting", "students", "days_back",
    "days_ahead",
)  # fmt: skip
WARN_NAMES = (
    "Full names leave this program with the feed: whoever has the address or looks at the phone can read "
    "them, and the calendar's provider stores them. Confirm that your district allows it, or choose codes."
)


def feed_add(
    *,
    actor: Person,
    kind: str,
    values: Mapping[str, Any],
    site: str,
    building: Building | None = None,
    school_class: SchoolClass | None = None,
    substitution: Substitution | None = None,
    names_confirmed: bool = False,
) -> tuple[Feed, str]:
    """A new feed and its address, which can't be read again.

    `values` are label and options; `site` is the scheme and host that addresses begin with. Raises
    `ValidationError` by field, or `ApplicationError` (403) for a kind that the role doesn't have.
    """
    permission_require(actor, "week.view")
    if kind not in KINDS_BY_ROLE.get(actor.role, ()):
        raise ApplicationError("Your role doesn't have this kind of feed.", code="not_for_your_role", status=403)
    feed = Feed(district=_district(actor), owner=actor, kind=kind, site=site.rstrip("/"), touched_at=timezone.now())
    _set_scope(feed, actor, building, school_class, substitution)
    secret = PREFIX + secrets.token_urlsafe(SECRET_BYTES)
    feed.token_hash = secret_hash(secret)
    with transaction.atomic():
        _set_options(feed, values, names_confirmed)
        feed.save()
        changes = {name: [None, getattr(feed, name)] for name in ("kind", *OPTIONS)}
        audit_write(actor=actor, district=feed.district, action="feed_add", row=feed, changes=changes)
        access_record(person=actor, kind=Access.Kind.FEED_MADE, about=feed.get_kind_display())
    return feed, feed_address(feed.site, secret)


def feed_new_address(*, actor: Person, feed: Feed, site: str) -> str:
    """A new address for a feed; the one before shows nothing from now on."""
    feed_own_require(actor, feed)
    secret = PREFIX + secrets.token_urlsafe(SECRET_BYTES)
    with transaction.atomic():
        running = Feed.objects.filter(pk=feed.pk, stopped_at=None)
        replaced = running.values_list("token_hash", flat=True).first()
        if running.update(token_hash=secret_hash(secret), site=site.rstrip("/")) != 1:
            raise ApplicationError("This feed is stopped. Add a new one.", code="feed_stopped")
        if replaced is not None:
            address_end(replaced)
        feeds_touch(running)
        audit_write(actor=actor, district=feed.district, action="feed_new_address", row=feed)
        access_record(person=actor, kind=Access.Kind.FEED_MADE, about=feed.get_kind_display())
    feed.refresh_from_db()
    return feed_address(feed.site, secret)


def feed_stop(*, actor: Person, feed: Feed) -> Feed:
    """End a feed: its address shows nothing from now on. Stopping twice does nothing."""
    _visible_require(actor, feed)
    with transaction.atomic():
        if Feed.objects.filter(pk=feed.pk, stopped_at=None).update(stopped_at=timezone.now()):
            # What it held is not needed anymore.
            feed.items.all().delete()
            FeedBody.objects.filter(feed=feed).delete()
            audit_write(actor=actor, district=feed.district, action="feed_stop", row=feed)
    feed.refresh_from_db()
    return feed


def feed_options_save(
    *, actor: Person, feed: Feed, values: Mapping[str, Any], names_confirmed: bool = False
) -> Feed:
    """Change label and what the feed shows; calendars have it at their next fetch."""
    feed_own_require(actor, feed)
    if feed.stopped_at is not None:
        raise ApplicationError("This feed is stopped. Add a new one.", code="feed_stopped")
    with transaction.atomic():
        before = {name: getattr(feed, name) for name in OPTIONS}
        _set_options(feed, values, names_confirmed or before["students"] == Feed.Students.NAMES)
        feed.save(update_fields=list(OPTIONS))
        changes = {
            name: [value, getattr(feed, name)] for name, value in before.items() if value != getattr(feed, name)
        }
        if changes:
            feeds_touch(Feed.objects.filter(pk=feed.pk))
            audit_write(actor=actor, district=feed.district, action="feed_options_save", row=feed, changes=changes)
    feed.refresh_from_db()
    return feed


def feed_note_fetch(*, feed_id: int, now: dt.datetime, program: str) -> None:
    """Note when a feed was fetched, and by which program, unless that was noted within the hour."""
    due = Q(last_fetched_at=None) | Q(last_fetched_at__lte=now - NOTE_AGAIN)
    if not Feed.objects.filter(due, pk=feed_id).update(last_fetched_at=now, last_fetched_by=program):
        return
    feed = Feed.objects.select_related("owner").get(pk=feed_id)
    access_record(
        person=feed.owner, kind=Access.Kind.FEED_FETCHED, about=program, why=feed.get_kind_display(), now=now
    )


def address_end(token_hash: str) -> None:
    """Know an address that no feed has anymore while calendars may hold what it showed; forget older ones."""
    now = timezone.now()
    FormerAddress.objects.filter(ended_at__lt=now - EMPTY_AFTER_END).delete()
    FormerAddress.objects.update_or_create(token_hash=token_hash, defaults={"ended_at": now})


def secret_hash(secret: str) -> str:
    """What is kept of an address."""
    return hashlib.sha256(secret.encode()).hexdigest()


def feed_address(site: str, secret: str) -> str:
    """The address of a feed."""
    return f"{site}{reverse('feed_ics', args=[secret])}"


def substitutions_of(actor: Person) -> list[Substitution]:
    """Where a substitute stands in today or later."""
    rows = Substitution.objects.filter(substitute=actor, last_date__gte=district_today(actor))
    return list(rows.select_related("teacher").order_by("first_date"))


# ---- helpers ---------------------------------------------------------------------------------------------


def _district(actor: Person) -> District:
    if actor.district is None:
        raise ApplicationError("This person doesn't belong to a district.", code="no_district")
    return actor.district


def _visible_require(actor: Person, feed: Feed) -> None:
    if not Feed.objects.changeable_by(actor).filter(pk=feed.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)


def feed_own_require(actor: Person, feed: Feed) -> None:
    """What goes into a feed is its owner's choice; a coordinator may only stop it."""
    _visible_require(actor, feed)
    if feed.owner_id != actor.pk:
        raise ApplicationError(
            "Only the person who made this feed can change it. You can stop it.", code="not_yours", status=403
        )


def _set_scope(
    feed: Feed,
    actor: Person,
    building: Building | None,
    school_class: SchoolClass | None,
    substitution: Substitution | None,
) -> None:
    if actor.is_teacher:
        feed.teacher = actor
    if feed.kind == Feed.Kind.BUILDING:
        visible = Building.objects.changeable_by(actor)
        if building is None or not visible.filter(pk=building.pk).exists():
            raise ValidationError({"building": NOT_LISTED})
        feed.building = building
    elif feed.kind == Feed.Kind.CLASS:
        seen = SchoolClass.objects.changeable_by(actor)
        if school_class is None or not seen.filter(pk=school_class.pk).exists():
            raise ValidationError({"school_class": NOT_LISTED})
        feed.school_class = school_class
    elif feed.kind == Feed.Kind.SUBSTITUTE:
        if substitution not in substitutions_of(actor):
            raise ValidationError({"substitution": NOT_LISTED})
        feed.substitution, feed.teacher, feed.ends_on = substitution, substitution.teacher, substitution.last_date


def _set_options(feed: Feed, values: Mapping[str, Any], names_confirmed: bool) -> None:
    for name in OPTIONS:
        if name in values:
            setattr(feed, name, values[name])
    if feed.kind == Feed.Kind.BUILDING and feed.students != Feed.Students.NOTHING:
        raise ValidationError({"students": "A building's feed never shows students."})
    if feed.students == Feed.Students.NAMES and not names_confirmed:
        raise ValidationError({"names_confirmed": WARN_NAMES})
    row_validate(feed)
