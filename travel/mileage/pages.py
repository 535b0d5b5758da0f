"""Pages of a district's mileage rules and rates, and of a teacher's home and commute."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.functional import cached_property
from django.views.decorators.http import require_POST, require_safe

from accounts.dates import date_words
from accounts.forms import RecordForm
from accounts.pages import Crumbs, RecordDeletePage, RecordFormPage, person_of
from accounts.selectors import today_of
from travel.mileage.forms import AccountCodeForm, MileageRateForm, MileageSettingsForm, TeacherHomeForm
from travel.mileage.models import SINCE_EVER, AccountCode, MileageRate, MileageSettings, TeacherHome
from travel.mileage.rules import USUAL_PURPOSE
from travel.mileage.selectors import home_on, mileage_settings_on, mileage_teachers, rates_of
from travel.mileage.services import (
    account_code_delete,
    account_code_save,
    effects_foreseen,
    mileage_rate_delete,
    mileage_rate_save,
    mileage_rates_copy,
    mileage_settings_delete,
    mileage_settings_save,
    teacher_home_delete,
    teacher_home_save,
)

RULES = "mileage.rules"
OWN = "mileage.view"
FROM_A_DAY = "What you enter holds from its first day on. Days before it keep what held then."
CORRECTS = "This corrects what was entered wrong: every day since its first day is counted by it."
WHO_SEES_HOME = "Only you and the coordinator see this. It is never sent out, and vouchers just say “Home”."


def since_words(first_day: dt.date) -> str:
    """Since when something holds."""
    return "always so" if first_day == SINCE_EVER else f"from {date_words(first_day)}"


def rules_page() -> str:
    """Address of the district's mileage rules."""
    return reverse("mileage_rules")


def rules_crumbs() -> Crumbs:
    """The month and the district's rules."""
    return [("Mileage", reverse("mileage")), ("Mileage rules", rules_page())]


@require_safe
def mileage_rules(request: HttpRequest) -> HttpResponse:
    """The district's rules and rates."""
    person = person_of(request)
    if not person.has_perm(RULES) or person.district is None:
        raise PermissionDenied
    today = today_of(person)
    context = {
        "settings": mileage_settings_on(person.district, today),
        "dated": MileageSettings.objects.visible_to(person),
        "since_ever": SINCE_EVER,
        "usual_purpose": USUAL_PURPOSE,
        "today": today,
        "codes": AccountCode.objects.visible_to(person).select_related("building", "teacher"),
        "own": MileageRate.objects.visible_to(person),
        "published": sorted(rates_of(person.district), key=lambda rate: rate.first_day, reverse=True),
        "crumbs": [("Mileage", reverse("mileage"))],
    }
    return render(request, "travel/mileage_rules.html", context)


@require_POST
def rates_copy(request: HttpRequest) -> HttpResponse:
    """Take the published rates over as the district's own."""
    mileage_rates_copy(actor=person_of(request))
    messages.success(request, "The district now has its own rates. Change the ones that differ.")
    return redirect(rules_page())


class MileageSettingsPage(RecordFormPage[MileageSettings]):
    """Which miles the district pays: other rules from a day on, or, with an id, what was wrong in saved ones."""

    model = MileageSettings
    form_class = MileageSettingsForm
    permission = RULES
    noun = "set of rules"

    @property
    def intro(self) -> str:  # type: ignore[override]  # depends on the address
        """What saving does."""
        return CORRECTS if "pk" in self.kwargs else FROM_A_DAY

    def new_row(self) -> MileageSettings:
        """What holds today, to begin from; nothing of it is saved."""
        if self.person.district is None:
            raise PermissionDenied
        now = mileage_settings_on(self.person.district, today_of(self.person))
        kept = {"id", "district", "first_day"}
        fields = [field.name for field in MileageSettings._meta.concrete_fields if field.name not in kept]
        return MileageSettings(**{name: getattr(now, name) for name in fields})

    def initial(self) -> dict[str, Any]:
        """From today on, where there are rules already."""
        if "pk" in self.kwargs or not MileageSettings.objects.visible_to(self.person).exists():
            return {}
        return {"first_day": today_of(self.person)}

    def title(self, row: MileageSettings) -> str:
        """The page's title."""
        return "Correct mileage rules" if row.pk else "Change the mileage rules"

    def in_title(self, row: MileageSettings) -> str:
        """Since when."""
        return since_words(row.first_day)

    def saved_message(self, row: MileageSettings) -> str:
        return "The rules are saved."

    def effects(self, row: MileageSettings, values: Mapping[str, Any]) -> list[str]:
        """What it changes of confirmed trips."""
        return effects_foreseen(
            actor=self.person,
            row=row,
            act=lambda one: mileage_settings_save(actor=self.person, row=one, values=values),
        )

    def save(self, row: MileageSettings, values: Mapping[str, Any]) -> MileageSettings:
        return mileage_settings_save(actor=self.person, row=row, values=values)

    def back(self, row: MileageSettings) -> str:
        return rules_page()

    def crumbs(self, row: MileageSettings) -> Crumbs:
        return rules_crumbs()

    def delete_address(self, row: MileageSettings) -> str:
        """Take it back."""
        return reverse("mileage_settings_delete", args=[row.pk])


class MileageSettingsDeletePage(RecordDeletePage[MileageSettings]):
    """Take rules back: those before them hold on."""

    model = MileageSettings
    permission = RULES
    noun = "set of rules"

    def in_title(self, row: MileageSettings) -> str:
        """Since when."""
        return since_words(row.first_day)

    def label(self, row: MileageSettings) -> str:
        """Since when they hold."""
        return f"Mileage rules, {since_words(row.first_day)}"

    def effects(self, row: MileageSettings) -> list[str]:
        """What it changes of confirmed trips."""
        return effects_foreseen(actor=self.person, row=row, act=self.delete)

    def delete(self, row: MileageSettings) -> None:
        """From their first day on, the rules before them hold again."""
        mileage_settings_delete(actor=self.person, row=row)

    def back(self, row: MileageSettings) -> str:
        """The district's rules."""
        return rules_page()

    def crumbs(self, row: MileageSettings) -> Crumbs:
        """The district's rules."""
        return rules_crumbs()


class MileageRatePage(RecordFormPage[MileageRate]):
    """A rate from a day on."""

    model = MileageRate
    form_class = MileageRateForm
    permission = RULES
    noun = "rate"
    intro = "Each trip is paid at the rate of the day driven."

    def effects(self, row: MileageRate, values: Mapping[str, Any]) -> list[str]:
        """What it changes of confirmed trips."""
        return effects_foreseen(
            actor=self.person, row=row, act=lambda one: mileage_rate_save(actor=self.person, row=one, values=values)
        )

    def save(self, row: MileageRate, values: Mapping[str, Any]) -> MileageRate:
        return mileage_rate_save(actor=self.person, row=row, values=values)

    def back(self, row: MileageRate) -> str:
        return rules_page()

    def crumbs(self, row: MileageRate) -> Crumbs:
        return rules_crumbs()

    def delete_address(self, row: MileageRate) -> str:
        return reverse("mileage_rate_delete", args=[row.pk])


class MileageRateDeletePage(RecordDeletePage[MileageRate]):
    """Delete a rate."""

    model = MileageRate
    permission = RULES
    noun = "rate"

    def effects(self, row: MileageRate) -> list[str]:
        """What it changes of confirmed trips."""
        return effects_foreseen(actor=self.person, row=row, act=self.delete)

    def delete(self, row: MileageRate) -> None:
        mileage_rate_delete(actor=self.person, row=row)

    def back(self, row: MileageRate) -> str:
        return rules_page()

    def crumbs(self, row: MileageRate) -> Crumbs:
        return rules_crumbs()


class AccountCodePage(RecordFormPage[AccountCode]):
    """What a building's or a teacher's trips are booked to."""

    model = AccountCode
    form_class = AccountCodeForm
    permission = RULES
    noun = "account code"
    intro = "For the finance office: vouchers that are submitted from now on say it on each line."

    def save(self, row: AccountCode, values: Mapping[str, Any]) -> AccountCode:
        return account_code_save(actor=self.person, row=row, values=values)

    def back(self, row: AccountCode) -> str:
        return rules_page()

    def crumbs(self, row: AccountCode) -> Crumbs:
        return rules_crumbs()

    def delete_address(self, row: AccountCode) -> str:
        return reverse("account_code_delete", args=[row.pk])


class AccountCodeDeletePage(RecordDeletePage[AccountCode]):
    """Take an account code back."""

    model = AccountCode
    permission = RULES
    noun = "account code"

    def delete(self, row: AccountCode) -> None:
        account_code_delete(actor=self.person, row=row)

    def back(self, row: AccountCode) -> str:
        return rules_page()

    def crumbs(self, row: AccountCode) -> Crumbs:
        return rules_crumbs()


class TeacherHomePage(RecordFormPage[TeacherHome]):
    """Where a teacher's days begin: otherwise from a day on, or, with an id, what was wrong in a saved row."""

    model = TeacherHome
    form_class = TeacherHomeForm
    template_name = "travel/teacher_home.html"
    permission = OWN
    noun = "home and commute"

    @property
    def intro(self) -> str:  # type: ignore[override]  # depends on the address
        """Who sees it, and what saving does."""
        return f"{WHO_SEES_HOME} {CORRECTS if 'pk' in self.kwargs else FROM_A_DAY}"

    @cached_property
    def _now(self) -> TeacherHome:
        """What holds today; asked once a request, by the new row and by what its form begins with."""
        teacher = get_object_or_404(mileage_teachers(self.person), pk=self.kwargs["teacher"])
        return home_on(teacher, today_of(self.person))

    def new_row(self) -> TeacherHome:
        """What holds today, to begin from; nothing of it is saved."""
        now = self._now
        return TeacherHome(
            teacher=now.teacher,
            district=now.district,
            latitude=now.latitude,
            longitude=now.longitude,
            commute_miles=now.commute_miles,
        )

    def initial(self) -> dict[str, Any]:
        """From today on, where something was said already."""
        if "pk" in self.kwargs or (now := self._now).pk is None:
            return {}
        return {"first_day": today_of(self.person), "regular_places": list(now.regular_places.all())}

    def title(self, row: TeacherHome) -> str:
        """The page's title."""
        return "Correct home and commute" if row.pk else "Home and commute"

    def in_title(self, row: TeacherHome) -> str:
        """Since when."""
        return since_words(row.first_day)

    def saved_message(self, row: TeacherHome) -> str:
        return "Home and commute are saved."

    def effects(self, row: TeacherHome, values: Mapping[str, Any]) -> list[str]:
        """What it changes of confirmed trips."""
        return effects_foreseen(
            actor=self.person, row=row, act=lambda one: teacher_home_save(actor=self.person, row=one, values=values)
        )

    def save(self, row: TeacherHome, values: Mapping[str, Any]) -> TeacherHome:
        return teacher_home_save(actor=self.person, row=row, values=values)

    def show(self, row: TeacherHome, form: RecordForm, status: int = 200, **more: Any) -> HttpResponse:
        """The form, and on the page of a teacher what was said so far."""
        dated = TeacherHome.objects.visible_to(self.person).filter(teacher=row.teacher_id)
        said = {"dated": dated.prefetch_related("regular_places"), "since_ever": SINCE_EVER} if not row.pk else {}
        return super().show(row, form, status, **said, **more)

    def back(self, row: TeacherHome) -> str:
        return f"{reverse('mileage')}?teacher={row.teacher_id}"

    def crumbs(self, row: TeacherHome) -> Crumbs:
        return [("Mileage", self.back(row))]

    def delete_address(self, row: TeacherHome) -> str:
        """Take it back."""
        return reverse("teacher_home_delete", args=[row.pk])


class TeacherHomeDeletePage(RecordDeletePage[TeacherHome]):
    """Take back what was said of home and commute: what was said before holds on."""

    model = TeacherHome
    permission = OWN
    noun = "home and commute"

    def in_title(self, row: TeacherHome) -> str:
        """Since when."""
        return since_words(row.first_day)

    def label(self, row: TeacherHome) -> str:
        """Whose, and since when."""
        return f"Home and commute of {row.teacher}, {since_words(row.first_day)}"

    def effects(self, row: TeacherHome) -> list[str]:
        """What it changes of confirmed trips."""
        return effects_foreseen(actor=self.person, row=row, act=self.delete)

    def delete(self, row: TeacherHome) -> None:
        """From its first day on, what was said before holds again."""
        teacher_home_delete(actor=self.person, row=row)

    def back(self, row: TeacherHome) -> str:
        """Home and commute as they are."""
        return reverse("teacher_home", args=[row.teacher_id])

    def crumbs(self, row: TeacherHome) -> Crumbs:
        """The teacher's month."""
        return [("Mileage", f"{reverse('mileage')}?teacher={row.teacher_id}")]
