"""Pages of a district's mileage rules and rates, and of a teacher's home and commute."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from accounts.pages import Crumbs, RecordDeletePage, RecordFormPage, person_of
from travel.mileage.forms import MileageRateForm, MileageSettingsForm, TeacherHomeForm
from travel.mileage.models import MileageRate, MileageSettings, TeacherHome
from travel.mileage.selectors import mileage_settings_of, mileage_teachers, rates_of
from travel.mileage.services import (
    mileage_rate_delete,
    mileage_rate_save,
    mileage_rates_copy,
    mileage_settings_save,
    teacher_home_save,
)

RULES = "mileage.rules"


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
    context = {
        "settings": mileage_settings_of(person.district),
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
    """Which miles the district pays; there is one row a district."""

    model = MileageSettings
    form_class = MileageSettingsForm
    permission = RULES
    noun = "set of rules"
    intro = "They apply to every trip that isn't submitted yet. What was submitted stays as it is."

    def new_row(self) -> MileageSettings:
        """The district's row, or a new one."""
        if self.person.district is None:
            raise PermissionDenied
        return mileage_settings_of(self.person.district)

    def title(self, row: MileageSettings) -> str:
        """The page's title."""
        return "Change the mileage rules"

    def saved_message(self, row: MileageSettings) -> str:
        """Said after saving."""
        return "The rules are saved."

    def save(self, row: MileageSettings, values: Mapping[str, Any]) -> MileageSettings:
        """Save it."""
        return mileage_settings_save(actor=self.person, row=row, values=values)

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

    def save(self, row: MileageRate, values: Mapping[str, Any]) -> MileageRate:
        """Save it."""
        return mileage_rate_save(actor=self.person, row=row, values=values)

    def back(self, row: MileageRate) -> str:
        """The district's rules."""
        return rules_page()

    def crumbs(self, row: MileageRate) -> Crumbs:
        """The district's rules."""
        return rules_crumbs()

    def delete_address(self, row: MileageRate) -> str:
        """Delete it."""
        return reverse("mileage_rate_delete", args=[row.pk])


class MileageRateDeletePage(RecordDeletePage[MileageRate]):
    """Delete a rate."""

    model = MileageRate
    permission = RULES
    noun = "rate"

    def delete(self, row: MileageRate) -> None:
        """Delete it."""
        mileage_rate_delete(actor=self.person, row=row)

    def back(self, row: MileageRate) -> str:
        """The district's rules."""
        return rules_page()

    def crumbs(self, row: MileageRate) -> Crumbs:
        """The district's rules."""
        return rules_crumbs()


class TeacherHomePage(RecordFormPage[TeacherHome]):
    """Where a teacher's days begin; there is one row a teacher."""

    model = TeacherHome
    form_class = TeacherHomeForm
    permission = "week.change"
    noun = "home and commute"
    intro = "Only you and the coordinator see this. It is never sent out, and vouchers just say “Home”."

    def new_row(self) -> TeacherHome:
        """The teacher's row, or a new one."""
        teacher = get_object_or_404(mileage_teachers(self.person), pk=self.kwargs["teacher"])
        found = TeacherHome.objects.visible_to(self.person).filter(teacher=teacher).first()
        return found or TeacherHome(teacher=teacher, district=teacher.district)

    def title(self, row: TeacherHome) -> str:
        """The page's title."""
        return "Home and commute"

    def saved_message(self, row: TeacherHome) -> str:
        """Said after saving."""
        return "Home and commute are saved."

    def save(self, row: TeacherHome, values: Mapping[str, Any]) -> TeacherHome:
        """Save it."""
        return teacher_home_save(actor=self.person, row=row, values=values)

    def back(self, row: TeacherHome) -> str:
        """The teacher's month."""
        return f"{reverse('mileage')}?teacher={row.teacher_id}"

    def crumbs(self, row: TeacherHome) -> Crumbs:
        """The teacher's month."""
        return [("Mileage", self.back(row))]
