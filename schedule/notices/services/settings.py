"""What a person wants to hear, what a district decided, and the test message."""

from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import record_change, record_remove
from accounts.services.undo import last_change_undo
from schedule.notices.models import Hearing, NameRule, Notice, NoticeSettings
from schedule.notices.selectors.hearers import Hearer, hearing_of, notice_settings_of
from schedule.notices.selectors.students import RULES_UNDO, last_name_rule_change
from schedule.notices.services.outbox import notice_add
from schedule.notices.wording import trial_message

HEAR = "week.view"
SETTINGS = "district.settings"
NO_ADDRESS = "There is no address to send to. Enter one, and choose mail."


def hearing_save(*, actor: Person, values: Mapping[str, Any]) -> Hearing:
    """What the person wants to hear."""
    row = hearing_of(actor)
    return record_change(actor=actor, row=row, values=dict(values), action="hearing_save", permission=HEAR)


def notice_settings_save(*, actor: Person, values: Mapping[str, Any]) -> NoticeSettings:
    """What the district decided."""
    if actor.district is None:
        raise ApplicationError("Only a district has settings.", code="not_for_your_role", status=403)
    row = notice_settings_of(actor.district)
    return record_change(
        actor=actor, row=row, values=dict(values), action="notice_settings_save", permission=SETTINGS
    )


def name_rule_save(*, actor: Person, row: NameRule, values: Mapping[str, Any]) -> NameRule:
    """From a day on, how students are called in messages, by each way."""
    return record_change(actor=actor, row=row, values=values, action="name_rule_save", permission=SETTINGS)


def name_rule_delete(*, actor: Person, row: NameRule) -> None:
    """Take a rule back: the one before it holds on, or students aren't named at all."""
    record_remove(actor=actor, row=row, action="name_rule_delete", permission=SETTINGS)


def name_rule_take_back(*, actor: Person, seen: int | None = None) -> None:
    """Undo what was done last to the district's rules: added, changed or deleted.

    `seen`: the id of the change that the person saw. Raises as `accounts.services.undo.last_change_undo`.
    """
    last_change_undo(
        actor=actor, model=NameRule, last=last_name_rule_change(actor), seen=seen, action=RULES_UNDO,
        permission=SETTINGS,
    )  # fmt: skip


def trial_send(*, actor: Person) -> Notice:
    """Send the person a message that says that it works. Raises `ApplicationError` (409) without an address."""
    hearer = Hearer(person=actor, hearing=hearing_of(actor))
    if not hearer.mail_to:
        raise ApplicationError(NO_ADDRESS, code="no_address", status=409)
    now = timezone.now()
    with transaction.atomic():
        row = notice_add(
            key=f"trial:{hearer.key}:{now.timestamp():.6f}",
            hearer=hearer,
            message=trial_message(str(actor)),
            district=actor.district,
            now=now,
        )
    if row is None:
        raise ApplicationError("One was asked for at this very moment.", code="on_its_way", status=409)
    return row
