"""Hours and lunches that a class has of its own, edited from its school's page."""

from collections.abc import Mapping
from typing import Any

from django.urls import reverse

from accounts.pages import Crumbs, RecordDeletePage, RecordFormPage, find_visible
from caseload.plans.models import SchoolClass
from schedule.calendar.forms import ClassDayForm
from schedule.calendar.models import ClassDayTime
from schedule.calendar.services import records
from travel.places.pages.buildings import building_crumbs, building_page

CHANGE = "district.change"


class ClassDayFormPage(RecordFormPage[ClassDayTime]):
    """When a class is at school, or has its lunch."""

    model = ClassDayTime
    form_class = ClassDayForm
    permission = CHANGE
    noun = "class day"
    intro = (
        "For a class that isn't there all day, such as half-day kindergarten: its students are taken in these "
        "times and in no others, and not at all on a day that none of them names. A lunch of its own takes the "
        "place of its grade's. Weeks in force stay as they are."
    )

    def new_row(self) -> ClassDayTime:
        """For the class that the address names."""
        return ClassDayTime(school_class=find_visible(SchoolClass, self.person, self.kwargs["school_class"]))

    def title(self, row: ClassDayTime) -> str:
        return f"Own day of {row.school_class}"

    def save(self, row: ClassDayTime, values: Mapping[str, Any]) -> ClassDayTime:
        return records.class_day_save(actor=self.person, row=row, values=values)

    def back(self, row: ClassDayTime) -> str:
        return building_page(row.school_class.building)

    def crumbs(self, row: ClassDayTime) -> Crumbs:
        return building_crumbs(row.school_class.building)

    def delete_address(self, row: ClassDayTime) -> str:
        return reverse("class_day_delete", args=[row.pk])


class ClassDayDeletePage(RecordDeletePage[ClassDayTime]):
    """The class goes by the bells of its grade again."""

    model = ClassDayTime
    permission = CHANGE
    noun = "class day"

    def delete(self, row: ClassDayTime) -> None:
        records.class_day_delete(actor=self.person, row=row)

    def back(self, row: ClassDayTime) -> str:
        return building_page(row.school_class.building)

    def crumbs(self, row: ClassDayTime) -> Crumbs:
        return building_crumbs(row.school_class.building)
