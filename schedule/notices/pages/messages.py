"""The page of messages: what was told to whom and what became of it, what one wants to hear, a test message."""

import hashlib
import logging
from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from accounts.errors import ApplicationError
from accounts.fields import id_read
from accounts.models import Person
from accounts.pages import Crumbs, RecordDeletePage, RecordFormPage, do_and_say, find_changeable, person_of
from accounts.people.mailing import mail_is_set_up
from schedule.notices.forms import HearingForm, NameRuleForm, NoticeSettingsForm
from schedule.notices.models import Hearing, NameRule, Notice, NoticeSettings, PushDevice
from schedule.notices.selectors.hearers import hearing_of, notice_settings_of
from schedule.notices.selectors.students import called_in, last_name_rule_change, notice_text
from schedule.notices.services import settings as services
from schedule.notices.services.outbox import notice_again
from schedule.notices.services.push_key import push_key_text

NEWEST = 60
logger = logging.getLogger(__name__)


@require_safe
def notices(request: HttpRequest) -> HttpResponse:
    """What was told about one's days or to oneself; a coordinator sees the district's."""
    person = person_of(request)
    if not person.has_perm("week.view"):
        raise PermissionDenied
    rows = Notice.objects.visible_to(person).select_related("person", "contact", "teacher", "device")
    hearing = hearing_of(person)
    devices = [(row, _digest(row)) for row in PushDevice.objects.visible_to(person)]
    context = {
        "told": [(row, _read(row, person), _copies(row)) for row in rows[:NEWEST]],
        "name_rules": NameRule.objects.visible_to(person) if person.has_perm(services.SETTINGS) else (),
        "last_rule": last_name_rule_change(person) if person.has_perm(services.SETTINGS) else None,
        "newest": NEWEST,
        "heard": _heard(hearing, sum(row.ended_at is None for row, _ in devices)),
        "district_settings": notice_settings_of(person.district) if person.district else None,
        "mail_is_set_up": mail_is_set_up(),
        "devices": devices,
        "push_key": _push_key(),
        "person": person,
    }
    return render(request, "schedule/notices/list.html", context)


def _heard(hearing: Hearing, devices: int) -> str:
    """What one hears, and by which ways."""
    ways = [f"by mail to {hearing.mail_to}"] if hearing.mail_to else []
    ways += [f"on {devices} device{'' if devices == 1 else 's'}"] if devices else []
    if not ways:
        return "Nothing: no address is known." if hearing.by_mail else "Nothing."
    what = ["changes to the next 24 hours"] if hearing.at_once else []
    what += ["tomorrow in the evening where it isn't the usual day"] if hearing.in_the_evening else []
    told = ", and ".join(what) or "nothing but test messages"
    return f"{told[0].upper()}{told[1:]}, {' and '.join(ways)}."


def _read(row: Notice, viewer: Person) -> str:
    """The text as a page may show it to who sees the students; to all others without them."""
    return called_in(row.body, viewer=viewer, shown=NameRule.Shown.NAMES)


def _digest(row: PushDevice) -> str:
    """By which the script knows the device that it runs on, without what only the device should know."""
    return hashlib.sha256(row.endpoint.encode()).hexdigest()


def _push_key() -> str:
    """What a browser is told to turn messages on; empty where this program has no key."""
    try:
        return push_key_text()
    except ApplicationError:
        logger.warning("The key for messages to devices can't be read or made; look at PUSH_KEY_FILE")
        return ""


def _copies(row: Notice) -> dict[str, str]:
    """Addresses that open the phone's own mail (RFC 6068) or text message (RFC 5724) with the text in it."""
    if row.state not in {Notice.State.FAILED, Notice.State.UNCERTAIN} or row.channel != Notice.Channel.MAIL:
        return {}
    text = notice_text(row, now=timezone.now())
    subject, body = quote(row.subject), quote(text)
    return {
        "mail": f"mailto:{quote(row.address, safe='@')}?subject={subject}&body={body}",
        "text": f"sms:?body={quote(f'{row.subject}: {text}')}",
    }


class HearingPage(RecordFormPage[Hearing]):
    """What one wants to hear, and where mail goes."""

    model = Hearing
    form_class = HearingForm
    permission = services.HEAR
    noun = "choice"
    intro = "What goes out names schools, spaces, classes and grown-ups, never a student."

    def new_row(self) -> Hearing:
        """The person's own."""
        return hearing_of(self.person)

    def title(self, row: Hearing) -> str:
        return "What you hear"

    def save(self, row: Hearing, values: Mapping[str, Any]) -> Hearing:
        return services.hearing_save(actor=self.person, values=values)

    def back(self, row: Hearing) -> str:
        return reverse("notices")

    def crumbs(self, row: Hearing) -> Crumbs:
        return [("Messages", reverse("notices"))]


class NoticeSettingsPage(RecordFormPage[NoticeSettings]):
    """What the district decided about messages."""

    model = NoticeSettings
    form_class = NoticeSettingsForm
    permission = "district.settings"
    noun = "choice"
    intro = "For the whole district. Each person chooses what they hear."

    def new_row(self) -> NoticeSettings:
        """The district's own."""
        if self.person.district is None:
            raise PermissionDenied
        return notice_settings_of(self.person.district)

    def title(self, row: NoticeSettings) -> str:
        return "Messages in the district"

    def save(self, row: NoticeSettings, values: Mapping[str, Any]) -> NoticeSettings:
        return services.notice_settings_save(actor=self.person, values=values)

    def back(self, row: NoticeSettings) -> str:
        return reverse("notices")

    def crumbs(self, row: NoticeSettings) -> Crumbs:
        return [("Messages", reverse("notices"))]


@require_POST
@permission_required(services.SETTINGS, raise_exception=True)
def name_rules_take_back(request: HttpRequest) -> HttpResponse:
    """Undo what was done last to the district's rules on names."""
    person, seen = person_of(request), id_read(request.POST.get("seen", ""))
    do_and_say(request, lambda: services.name_rule_take_back(actor=person, seen=seen), "Taken back.")
    return redirect("notices")


class NameRulePage(RecordFormPage[NameRule]):
    """How students are called in messages, from a day on."""

    model = NameRule
    form_class = NameRuleForm
    permission = services.SETTINGS
    noun = "rule"
    intro = (
        "Messages name students only where your district allows it, and only to teachers, substitutes and "
        "coordinators who see these students here. School offices and classroom teachers never get a name."
    )

    def title(self, row: NameRule) -> str:
        return "Students in messages"

    def save(self, row: NameRule, values: Mapping[str, Any]) -> NameRule:
        return services.name_rule_save(actor=self.person, row=row, values=values)

    def back(self, row: NameRule) -> str:
        return reverse("notices")

    def crumbs(self, row: NameRule) -> Crumbs:
        return [("Messages", reverse("notices"))]

    def delete_address(self, row: NameRule) -> str:
        return reverse("name_rule_delete", args=[row.pk])


class NameRuleDeletePage(RecordDeletePage[NameRule]):
    """Take a rule back."""

    model = NameRule
    permission = services.SETTINGS
    noun = "rule"

    def delete(self, row: NameRule) -> None:
        services.name_rule_delete(actor=self.person, row=row)

    def back(self, row: NameRule) -> str:
        return reverse("notices")

    def crumbs(self, row: NameRule) -> Crumbs:
        return [("Messages", reverse("notices"))]


@require_POST
def notice_trial(request: HttpRequest) -> HttpResponse:
    """A message to oneself that says that it works."""
    person = person_of(request)
    if not person.has_perm(services.HEAR):
        raise PermissionDenied
    do_and_say(request, lambda: services.trial_send(actor=person), "It is on its way. Below is what became of it.")
    return redirect("notices")


@require_POST
def notice_send_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Once more, because a person wants it."""
    person = person_of(request)
    row = find_changeable(Notice, person, pk)
    do_and_say(request, lambda: notice_again(actor=person, row=row), "It is sent again.")
    return redirect("notices")
