"""Pages of a teacher's own minutes between two buildings."""

from collections.abc import Mapping
from typing import Any

from django.shortcuts import get_object_or_404
from django.urls import reverse

from accounts.pages import Crumbs, RecordDeletePage, RecordFormPage
from accounts.selectors import teachers_of
from travel.drives.forms import OwnDriveTimeForm
from travel.drives.models import OwnDriveTime
from travel.drives.services import own_drive_time_delete, own_drive_time_save


class OwnDriveTimeFormPage(RecordFormPage[OwnDriveTime]):
    """A teacher's own minutes between two buildings."""

    model = OwnDriveTime
    form_class = OwnDriveTimeForm
    permission = "week.change"
    noun = "drive time"
    intro = "Your own minutes are always used instead of the estimate."

    def new_row(self) -> OwnDriveTime:
        """For the teacher that the address names."""
        teachers = teachers_of(self.person.district)
        if not self.person.is_coordinator:
            teachers = teachers.filter(pk=self.person.pk)
        teacher = get_object_or_404(teachers, pk=self.kwargs["teacher"])
        return OwnDriveTime(teacher=teacher, district=teacher.district)

    def save(self, row: OwnDriveTime, values: Mapping[str, Any]) -> OwnDriveTime:
        return own_drive_time_save(actor=self.person, row=row, values=values)

    def back(self, row: OwnDriveTime) -> str:
        return reverse("teacher_rules_of", args=[row.teacher_id])

    def crumbs(self, row: OwnDriveTime) -> Crumbs:
        return [("Rules", self.back(row))]

    def delete_address(self, row: OwnDriveTime) -> str:
        return reverse("own_drive_time_delete", args=[row.pk])


class OwnDriveTimeDeletePage(RecordDeletePage[OwnDriveTime]):
    """Forget own minutes."""

    model = OwnDriveTime
    permission = "week.change"
    noun = "drive time"

    def delete(self, row: OwnDriveTime) -> None:
        own_drive_time_delete(actor=self.person, row=row)

    def back(self, row: OwnDriveTime) -> str:
        return reverse("teacher_rules_of", args=[row.teacher_id])

    def crumbs(self, row: OwnDriveTime) -> Crumbs:
        return [("Rules", self.back(row))]
