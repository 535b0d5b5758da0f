"""Marks feeds whose content a saved or deleted row may show in (connected by schedule.apps).

Signals and not calls in each service: rows of the floors below are saved by services that must not know of feeds,
and one that was forgotten would show the old name on every phone. Marking too many costs a look, never a change.
"""

from typing import Any
from uuid import UUID

from django.db.models import Model, Q
from django.db.models.signals import post_delete, post_save

from accounts.models import District, Person, PersonRole, Substitution
from caseload.delivery.models import DeliveryVersion
from caseload.delivery.signals import log_written
from caseload.plans.models import Enrollment, SchoolClass, ServiceLine, Student
from schedule.calendar.models import BellPeriod, CalendarEntry, Happening, SchoolYear
from schedule.feeds.models import Feed
from schedule.feeds.services.feeds import address_end
from schedule.feeds.services.versions import feeds_of_district, feeds_of_teacher, feeds_touch
from schedule.joint.models import JointService
from schedule.joint.selectors import teachers_beside
from schedule.notices.services.watching import district_touch, teacher_touch
from schedule.weeks.models import PlannedSession, WeekPlan
from schedule.weeks.selectors.day_shapes import NOT_HELD
from travel.places.models import Building, BuildingStaff, Space

AT_SIGN_IN = frozenset({"last_login"})
IN_FORCE_ONCE = (WeekPlan.Status.PUBLISHED, WeekPlan.Status.REPLACED)


def _district_of(row: Model) -> int | None:
    match row:
        case District():
            return row.pk
        case Space() | SchoolClass() | BuildingStaff() | BellPeriod():
            # Shortened days go by the first and the last bell.
            place = row.schedule if isinstance(row, BellPeriod) else row
            return place.building.district_id
        case Substitution():
            return row.teacher.district_id
        case PersonRole():
            return row.person.district_id
        case Enrollment() | ServiceLine():  # Class feeds show who is in it, and providers see the student.
            return row.student.district_id
        case JointService():
            return row.service.student.district_id
        case Person() | Student() | Building() | CalendarEntry() | SchoolYear() | Happening():
            return row.district_id
    message = f"{type(row).__name__} has no district here"
    raise TypeError(message)


def _shows_at_once(row: Model) -> bool:
    """Whether a row that has just been made changes what was there: of enrollments not a student's first, of
    roles not a person's."""
    if isinstance(row, Enrollment):
        return row.first_day is not None
    if isinstance(row, PersonRole):
        return row.person.roles.count() > 1
    at_once = (
        BellPeriod, CalendarEntry, BuildingStaff, Substitution, SchoolYear, ServiceLine, Happening, JointService,
    )  # fmt: skip
    return isinstance(row, at_once)


def district_changed(district_id: int | None) -> None:
    """Note that days may show otherwise, in feeds and messages: for writes without Django's signal, too."""
    feeds_touch(feeds_of_district(district_id))
    if district_id is not None:
        district_touch(district_id=district_id)


def _district_changed(sender: type[Model], instance: Model, **told: Any) -> None:
    if told.get("created") and not _shows_at_once(instance):
        return
    names = told.get("update_fields")
    if names is not None and set(names) <= AT_SIGN_IN:
        return
    district_changed(_district_of(instance))


def _week_changed(sender: type[Model], instance: WeekPlan, **told: Any) -> None:
    if instance.status in IN_FORCE_ONCE:
        feeds_touch(feeds_of_teacher(instance.teacher_id, instance.district_id))
        teacher_touch(teacher_id=instance.teacher_id)
        for beside in teachers_beside(instance.teacher_id):  # Theirs say what is given together.
            feeds_touch(feeds_of_teacher(beside, instance.district_id))


def _log_changed(sender: type[Model], session_uids: set[UUID], **told: Any) -> None:
    """A log by which nobody was taught, or that said so before, changes where the day goes, for everyone.

    Whoever gives a session together with another is told in the own feed that the other logged it as missed.
    """
    said = DeliveryVersion.objects.filter(entry__session_uid__in=session_uids)
    joint = Q(entry__service_line__service__joint_services__isnull=False)
    joint |= Q(entry__service_line__service__joint_partners__isnull=False)
    if said.filter(Q(reason__code__in=NOT_HELD) | Q(joint, delivered_minutes=0)).exists():
        sessions = PlannedSession.objects.filter(uid__in=session_uids)
        for district_id in sessions.values_list("week__district", flat=True).distinct():
            district_changed(district_id)


def _feed_deleted(sender: type[Model], instance: Feed, **told: Any) -> None:
    """Also with what it was of, such as a substitution that is taken back: phones drop what they hold."""
    if instance.stopped_at is None:
        address_end(instance.token_hash)


def connect() -> None:
    """Listen; twice has no effect."""
    for model in (
        District, Person, Substitution, SchoolClass, Student, Enrollment, ServiceLine, CalendarEntry, SchoolYear,
        Building, BuildingStaff, Space, Happening, PersonRole, JointService, BellPeriod,
    ):  # fmt: skip
        for signal in (post_save, post_delete):
            signal.connect(_district_changed, sender=model, dispatch_uid=f"feeds-{model.__name__}")
    post_delete.connect(_feed_deleted, sender=Feed, dispatch_uid="feeds-Feed")
    log_written.connect(_log_changed, dispatch_uid="feeds-log")
    for signal in (post_save, post_delete):
        signal.connect(_week_changed, sender=WeekPlan, dispatch_uid="feeds-WeekPlan")
