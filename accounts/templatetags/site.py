"""Template tags of the frame around every page."""

import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django import template
from django.forms import BaseForm
from django.forms.formsets import BaseFormSet
from django.template.context import Context
from django.urls import NoReverseMatch, reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from accounts.idempotency.sent import FIELD
from accounts.models import Person
from accounts.roles.selectors import roles_of
from accounts.sign_in.by_link import LINK_PAGES
from accounts.sign_in.phone_key import phone_key

register = template.Library()

type AnyFormSet = BaseFormSet[Any]

# Name of the address, label, and the permission that it takes (accounts.permissions); empty: everyone.
NAVIGATION = (
    ("day", "Today", "week.view"),
    ("log", "Log", "log.view"),
    ("week", "Week", "week.view"),
    ("plan", "Plan", "week.change"),
    ("overview", "Overview", "overview.view"),
    ("attention", "Attention", "week.change"),
    ("student_list", "Students", "records.view"),
    ("report_home", "Reports", "records.view"),
    ("calendar", "Calendar", ""),
    ("mileage", "Mileage", "mileage.view"),
)
# What a day needs, within reach of the thumb on a phone; the button of the menu comes after it.
AT_THUMB = (
    ("day", "Today", "week.view"),
    ("log", "Log", "log.view"),
    ("happenings", "Happened", "week.change"),
    ("week", "Week", "week.view"),
)
# Of the menu on a phone: what belongs to today comes first.
HAPPENED = ("happenings", "Something happened", "week.change")
IN_MENU = (*NAVIGATION[:2], HAPPENED, *NAVIGATION[2:])
# What is set up once and seldom changed; in the menu behind the name, so that the line above stays one line.
SETTING_UP = (
    ("beginning", "First steps", "district.change"),
    ("building_list", "Buildings", ""),
    ("teacher_rules", "Rules", "week.change"),
    ("common_meetings", "Common meetings", "week.change"),
    ("goal_rules", "Rules for goals", "ledger.change"),
    ("routine_list", "Routines", "caseload.view"),
    ("equipment_list", "Equipment", "caseload.view"),
    ("station_list", "Stations", "caseload.view"),
    ("caution_tags", "Caution tags", "caseload.view"),
    ("care_views", "Who looked", "care.views"),
    ("accesses", "Who saw what", "access.view"),
    ("import_home", "Import", "import.run"),
    ("feeds", "Phone calendar", "week.view"),
    ("notices", "Messages", "week.view"),
    ("phone", "On this phone", "day.tap"),
    ("people", "People", "people.change"),
    ("teams", "Teams", "teams.view"),
    ("reviews", "Reviews", "reviews.view"),
    ("district", "District", "district.settings"),
    ("retention", "Keeping records", "records.keep"),
    ("work", "Work that broke off", "district.settings"),
)


@register.simple_tag
def idempotency_key() -> SafeString:
    """A hidden field by which a form is taken once, however often it is sent (accounts.idempotency)."""
    return format_html('<input type="hidden" name="{}" value="{}">', FIELD, uuid.uuid4())


@dataclass(frozen=True, slots=True)
class ErrorLine:
    """One line of an error summary; `target` is the id of the input that it leads to, or empty."""

    label: str
    text: str
    target: str


def _address(name: str) -> str:
    """The page's address, or an empty text where no such page is installed."""
    try:
        return reverse(name)
    except NoReverseMatch:
        return ""


@register.simple_tag(takes_context=True)
def main_navigation(context: Context) -> SafeString:
    """The list of main pages that this person's role has, the current one marked."""
    return _navigation(context, NAVIGATION)


@register.simple_tag(takes_context=True)
def menu_navigation(context: Context) -> SafeString:
    """The same on a phone, with what a day needs first."""
    return _navigation(context, IN_MENU)


@register.simple_tag(takes_context=True)
def thumb_navigation(context: Context) -> SafeString:
    """What a day needs, as a bar at the lower edge of a phone, with the menu."""
    menu = SafeString('<button class="plain" type="button" popovertarget="menu">Menu</button>')
    return format_html("{}{}", _navigation(context, AT_THUMB), menu)


@register.simple_tag(takes_context=True)
def setup_navigation(context: Context) -> SafeString:
    """The same of the pages that are seldom needed."""
    return _navigation(context, SETTING_UP)


def _shown(user: Person, pages: tuple[tuple[str, str, str], ...]) -> Iterator[tuple[str, str]]:
    """Address and label of the pages that a person may see."""
    for name, label, permission in pages:
        address = _address(name) if may_open(user, name) else ""
        if address and (not permission or user.has_perm(permission)):
            yield address, label


@register.filter
def may_open(user: object, name: str) -> bool:
    """Whether a page is open to this person at all: by a link only few are."""
    return not getattr(user, "by_link", False) or name in LINK_PAGES


def _crumb_addresses(context: Context) -> list[str]:
    return [address for _, address in context.get("crumbs") or ()]


def _here(addresses: list[str], places: list[str]) -> str:
    """The nearest of the addresses above the page; an empty text if none is."""
    above = [address for address in addresses if any(place.startswith(address) for place in places)]
    return max(above, key=len, default="")


def _navigation(context: Context, pages: tuple[tuple[str, str, str], ...]) -> SafeString:
    request = context["request"]
    shown = list(_shown(request.user, pages))
    here = _here([address for address, _ in shown], [request.path, *_crumb_addresses(context)])
    items = format_html_join(
        "",
        '<li><a href="{}"{}>{}</a></li>',
        (
            (address, SafeString(' aria-current="page"') if address == here else "", label)
            for address, label in shown
        ),
    )
    return format_html("<ul>{}</ul>", items) if shown else SafeString("")


@register.simple_tag(takes_context=True)
def other_roles(context: Context) -> list[tuple[str, str]]:
    """The roles in which whoever is signed in could work as well, each with its words."""
    user = getattr(context.get("request"), "user", None)
    return [one for one in roles_of(user) if one[0] != user.role] if isinstance(user, Person) else []


@register.simple_tag(takes_context=True)
def person_key(context: Context) -> str:
    """Whose page this is, for the browser's own store; an empty text if nobody is signed in.

    A page of an error may come before anybody was asked who it is.
    """
    request = context.get("request")
    user = getattr(request, "user", None)
    return phone_key(user) if isinstance(user, Person) else ""


@register.simple_tag
def form_problems(form: BaseForm | str | None, formset: AnyFormSet | str | None = None) -> list[ErrorLine]:
    """Every error of a form and its formset, in the order of the page."""
    problems = _of_form(form) if isinstance(form, BaseForm) else []
    if isinstance(formset, BaseFormSet) and formset.is_bound:
        problems += [ErrorLine("", str(text), "") for text in formset.non_form_errors()]
        for number, row in enumerate(formset.forms, start=1):
            problems += _of_form(row, f"Row {number}, ")
    return problems


def _of_form(form: BaseForm, prefix: str = "") -> list[ErrorLine]:
    if not form.is_bound:
        return []
    found = [ErrorLine("", f"{prefix}{text}", "") for text in form.non_field_errors()]
    for field in form:
        label = f"{prefix}{field.label}"
        found += [ErrorLine(label, str(text), field.id_for_label or field.auto_id) for text in field.errors]
    return found
