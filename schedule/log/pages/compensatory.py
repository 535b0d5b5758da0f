"""Compensatory time: what a student's team decided to give, recorded, corrected, taken back."""

from collections.abc import Mapping
from typing import Any

from django.db import models
from django.urls import reverse

from accounts.pages import Crumbs, RecordDeletePage, RecordFormPage, find_changeable
from accounts.selectors import today_of
from caseload.delivery.models import CompensatoryTime
from caseload.delivery.services.compensatory import PERMISSION, compensatory_delete, compensatory_save
from caseload.plans.models import Student
from caseload.plans.pages.named import AboutStudent
from caseload.plans.pages.students import student_crumbs
from schedule.log.forms import CompensatoryTimeForm
from schedule.log.pages.ledger import ledger_page


def _crumbs(row: CompensatoryTime) -> Crumbs:
    return [*student_crumbs(row.student), ("Minutes", ledger_page(row.student))]


class AboutCompensatoryTime(AboutStudent):
    """A page about compensatory time: its title has the student's initials."""

    def in_title(self, row: models.Model) -> str:
        """Those of the student whose time it is."""
        return super().in_title(row.student if isinstance(row, CompensatoryTime) else row)


class CompensatoryFormPage(AboutCompensatoryTime, RecordFormPage[CompensatoryTime]):
    """Record what the team decided, or correct it."""

    model = CompensatoryTime
    form_class = CompensatoryTimeForm
    permission = PERMISSION
    noun = "compensatory time"
    intro = (
        "What the student's team decided to give for minutes that weren't given. It is an account of its own: no "
        "service owes these minutes, and only minutes that are logged for it count."
    )

    def new_row(self) -> CompensatoryTime:
        """For the student that the address names."""
        return CompensatoryTime(student=find_changeable(Student, self.person, self.kwargs["student"]))

    def initial(self) -> dict[str, Any]:
        """Decided today, unless somebody says otherwise."""
        return {"decided_on": today_of(self.person)}

    def save(self, row: CompensatoryTime, values: Mapping[str, Any]) -> CompensatoryTime:
        return compensatory_save(actor=self.person, row=row, values=values)

    def back(self, row: CompensatoryTime) -> str:
        return ledger_page(row.student)

    def crumbs(self, row: CompensatoryTime) -> Crumbs:
        return _crumbs(row)

    def delete_address(self, row: CompensatoryTime) -> str:
        return reverse("compensatory_delete", args=[row.pk])


class CompensatoryDeletePage(AboutCompensatoryTime, RecordDeletePage[CompensatoryTime]):
    """Take it back, until some of it is given."""

    model = CompensatoryTime
    permission = PERMISSION
    noun = "compensatory time"

    def delete(self, row: CompensatoryTime) -> None:
        compensatory_delete(actor=self.person, row=row)

    def back(self, row: CompensatoryTime) -> str:
        return ledger_page(row.student)

    def crumbs(self, row: CompensatoryTime) -> Crumbs:
        return _crumbs(row)
