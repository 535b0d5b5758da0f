"""Messages on their way: written once, sent by a job, tried again by the clock, and what became of them kept."""

import datetime as dt
import logging

from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import District, Person
from accounts.people.mailing import mail_is_set_up
from accounts.services import audit_write
from jobs.services import job_add
from schedule.calendar.published.reach import Allowed, is_public
from schedule.notices.models import Notice, PushDevice
from schedule.notices.selectors.hearers import Hearer
from schedule.notices.services.pushing import DeviceGoneError, push_send
from schedule.notices.services.ways import NotSentError, mail_send
from schedule.notices.wording import Message

logger = logging.getLogger(__name__)

KIND = "send_notice"
TRIES = (dt.timedelta(minutes=1), dt.timedelta(minutes=5), dt.timedelta(minutes=20), dt.timedelta(hours=1))
"""How long after each failed try the next one is made; after the last there is none."""
LOST_AFTER = dt.timedelta(minutes=15)
"""A message that is being sent for longer was in the hands of a worker that is no more."""
NO_SERVER = "No mail server is set up, so nobody was told. Copy the text and send it yourself."
NO_ADDRESS = "No address is known."
NO_DEVICE = "Messages to this device are turned off. Turn them on again there."
LOST = "The program stopped while it was being sent. Whether it arrived isn't known."
CODES = {NO_SERVER: "no_mail_server", NO_ADDRESS: "no_address", NO_DEVICE: "no_device"}
State = Notice.State


def notices_add(
    *, key: str, hearer: Hearer, message: Message, district: District | None, now: dt.datetime,
    teacher: Person | None = None, date: dt.date | None = None, path: str = "",
) -> list[Notice]:  # fmt: skip
    """Write a message once for each way by which the person hears: mail, and each device that is turned on."""
    ways: list[PushDevice | None] = [None] if hearer.mail_to else []
    made = [
        notice_add(
            key=key, hearer=hearer, message=message, district=district, now=now, teacher=teacher, date=date,
            path=path, device=device,
        )
        for device in [*ways, *hearer.devices]
    ]  # fmt: skip
    return [one for one in made if one is not None]


def notice_add(
    *, key: str, hearer: Hearer, message: Message, district: District | None, now: dt.datetime,
    teacher: Person | None = None, date: dt.date | None = None, path: str = "", device: PushDevice | None = None,
) -> Notice | None:  # fmt: skip
    """Write a message, in the transaction of what it tells; None if this was told before by the same way.

    Without a mail server it is kept as failed, with its text, so that a person can send it. `path` is the page that
    it opens.
    """
    row = Notice(
        key=key if device is None else f"{key}:d{device.pk}",
        district=district,
        teacher=teacher,
        date=date,
        person=hearer.person,
        contact=hearer.contact,
        channel=Notice.Channel.MAIL if device is None else Notice.Channel.PUSH,
        device=device,
        address=hearer.mail_to if device is None else device.label,
        path=path,
        subject=message.subject[:200],
        body="\n".join([*message.lines, *(_link(path) if device is None else [])]),
        next_try=now,
        made_at=now,
    )
    problem = _hindrance(row)
    if problem:
        row.state, row.problem, row.ended_at = State.FAILED, problem, now
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError:
        return None
    if row.state == State.WAITING:
        _ask(row.pk, row.district_id)
    return row


def _hindrance(row: Notice) -> str:
    """Why it can't even be tried; empty where it can."""
    if row.channel == Notice.Channel.PUSH:
        return "" if row.device is not None and row.device.ended_at is None else NO_DEVICE
    if not row.address:
        return NO_ADDRESS
    return "" if mail_is_set_up() else NO_SERVER


def _link(path: str) -> list[str]:
    """Where to look, where the site's address is known; it names a date and no student."""
    return ["", f"{settings.SITE_ADDRESS.rstrip('/')}{path}"] if path and settings.SITE_ADDRESS else []


def _ask(pk: int, district: int) -> None:
    job_add(kind=KIND, payload={"notice": pk}, district=district, unique_key=f"{KIND}:{pk}")


def notices_ask_due(*, now: dt.datetime | None = None) -> None:
    """Have those sent whose time has come, and say of those lost on the way that nobody knows."""
    moment = now or timezone.now()
    lost = Notice.objects.filter(state=State.SENDING, next_try__lt=moment - LOST_AFTER)
    lost.update(state=State.UNCERTAIN, problem=LOST, ended_at=moment)
    due = Notice.objects.due_at(moment).order_by("next_try")
    for pk, district in due.values_list("pk", "district")[:500]:
        with transaction.atomic():
            _ask(pk, district)


def notice_send(*, notice_id: int, now: dt.datetime | None = None, allowed: Allowed = is_public) -> bool:
    """Send one message, if it waits; returns whether it left. `allowed` judges addresses of push services.

    That it is being sent is committed before a byte leaves: a worker killed in between sends nothing twice.
    """
    moment = now or timezone.now()
    waiting = Notice.objects.filter(pk=notice_id, state=State.WAITING)
    # The condition again in the update: of two workers one sends.
    if waiting.update(state=State.SENDING, next_try=moment) != 1:
        return False
    row = Notice.objects.select_related("device", "district").get(pk=notice_id)
    try:
        if row.channel == Notice.Channel.PUSH:
            push_send(row, moment, allowed)
        else:
            mail_send(row, moment)
    except NotSentError as error:
        _failed(row, error, moment)
        return False
    if row.device is not None:
        PushDevice.objects.filter(pk=row.device.pk).update(reached_at=moment)
    Notice.objects.filter(pk=row.pk).update(state=State.SENT, problem="", tries=row.tries + 1, ended_at=moment)
    return True


def _failed(row: Notice, error: NotSentError, moment: dt.datetime) -> None:
    """Why it didn't leave, and when it is tried again: not where it was refused for good, or may have arrived."""
    tries = row.tries + 1
    over = error.final or error.unsure or tries > len(TRIES)
    logger.warning("Notice %s was not sent: %s", row.pk, type(error.__cause__ or error).__name__)
    if isinstance(error, DeviceGoneError) and row.device is not None:
        gone = {"ended_at": moment, "is_gone": True, "problem": error.problem}
        PushDevice.objects.filter(pk=row.device.pk, ended_at=None).update(**gone)
    again = moment if over else moment + max(TRIES[tries - 1], error.wait)
    failed = State.UNCERTAIN if error.unsure else State.FAILED
    Notice.objects.filter(pk=row.pk).update(
        tries=tries, problem=error.problem[:300], next_try=again,
        state=failed if over else State.WAITING, ended_at=moment if over else None,
    )  # fmt: skip


def notice_again(*, actor: Person, row: Notice, now: dt.datetime | None = None) -> Notice:
    """Send a message again that failed or perhaps didn't arrive, because a person wants it.

    Raises `ApplicationError` (409, `on_its_way`) for one that is on its way or was sent.
    """
    moment = now or timezone.now()
    with transaction.atomic():
        kept = Notice.objects.select_for_update().get(pk=row.pk)
        if kept.state not in {State.FAILED, State.UNCERTAIN}:
            raise ApplicationError("This message is on its way or was sent.", code="on_its_way", status=409)
        if problem := _hindrance(kept):
            raise ApplicationError(problem, code=CODES[problem], status=409)
        kept.state, kept.next_try, kept.ended_at, kept.problem = State.WAITING, moment, None, ""
        kept.save()
        audit_write(actor=actor, district=kept.district, action="notice_again", row=kept)
        _ask(kept.pk, kept.district_id)
    return kept
