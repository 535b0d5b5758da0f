"""A building's own page, and what is edited from it: days, free times, classes' times."""

from collections.abc import Mapping
from copy import copy
from typing import Any

from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.guards import ends_foreseen
from accounts.pages import Crumbs, RecordDeletePage, RecordFormPage, find_changeable, find_visible, person_of
from accounts.selectors import today_of
from caseload.plans.models import SchoolClass
from schedule.calendar.forms import (
    BellRuleForm,
    ClassMeetingForm,
    SpaceFreeTimeForm,
)
from schedule.calendar.models import BellRule, ClassMeeting, SpaceFreeTime
from schedule.calendar.selectors.bells import bells_listed
from schedule.calendar.selectors.rotations import last_rotation_change, rotations_listed
from schedule.calendar.selectors.school_days import coming_days
from schedule.calendar.services import records
from travel.places.models import Building, Space
from travel.places.pages.buildings import building_crumbs, building_page

CHANGE = "district.change"
TIMES = "Give a period of the building's bells, or two clock times."


@require_safe
def building_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """Everything about a building on one page."""
    person = person_of(request)
    building = find_visible(Building, person, pk)
    context = {
        "building": building,
        "spaces": building.spaces.prefetch_related("free_times"),
        "bells": bells_listed(person, building),
        "rotations": rotations_listed(building),
        "last_rotation": last_rotation_change(building) if person.has_perm(CHANGE) else None,
        "coming": coming_days(building, today_of(person)),
        "bell_rules": building.bell_rules.select_related("schedule"),
        "classes": building.classes.prefetch_related(
            Prefetch("meetings", queryset=ClassMeeting.objects.select_related("space")), "day_times"
        ),
        "crumbs": building_crumbs(),
    }
    return render(request, "schedule/building_detail.html", context)


class BellRuleFormPage(RecordFormPage[BellRule]):
    """Which bells ring on a weekday or cycle day."""

    model = BellRule
    form_class = BellRuleForm
    permission = CHANGE
    noun = "day with different bells"

    def new_row(self) -> BellRule:
        """In the building that the address names."""
        return BellRule(building=find_changeable(Building, self.person, self.kwargs["building"]))

    def save(self, row: BellRule, values: Mapping[str, Any]) -> BellRule:
        return records.bell_rule_save(actor=self.person, row=row, values=values)

    def back(self, row: BellRule) -> str:
        return building_page(row.building)

    def crumbs(self, row: BellRule) -> Crumbs:
        return building_crumbs(row.building)

    def delete_address(self, row: BellRule) -> str:
        return reverse("bell_rule_delete", args=[row.pk])


class BellRuleDeletePage(RecordDeletePage[BellRule]):
    """The day rings the regular bells again."""

    model = BellRule
    permission = CHANGE
    noun = "day with different bells"

    def delete(self, row: BellRule) -> None:
        records.bell_rule_delete(actor=self.person, row=row)

    def back(self, row: BellRule) -> str:
        return building_page(row.building)

    def crumbs(self, row: BellRule) -> Crumbs:
        return building_crumbs(row.building)


class FreeTimeFormPage(RecordFormPage[SpaceFreeTime]):
    """When a space is free."""

    model = SpaceFreeTime
    form_class = SpaceFreeTimeForm
    permission = CHANGE
    noun = "free time"
    intro = f"{TIMES} A space without any free time here counts as free all day."

    def new_row(self) -> SpaceFreeTime:
        """For the space that the address names."""
        return SpaceFreeTime(space=find_changeable(Space, self.person, self.kwargs["space"]))

    effects_said = "Look at what is planned first. Nothing is saved yet."
    effects_button = "Save it all the same"

    def title(self, row: SpaceFreeTime) -> str:
        return f"When {row.space} is free"

    def effects(self, row: SpaceFreeTime, values: Mapping[str, Any]) -> list[str]:
        """Planned sessions that fall outside what is free then, or are inside again."""
        me, tried = self.person, copy(row)
        return ends_foreseen(me, row, lambda: records.space_free_time_save(actor=me, row=tried, values=values))

    def save(self, row: SpaceFreeTime, values: Mapping[str, Any]) -> SpaceFreeTime:
        return records.space_free_time_save(actor=self.person, row=row, values=values)

    def back(self, row: SpaceFreeTime) -> str:
        return building_page(row.space.building)

    def crumbs(self, row: SpaceFreeTime) -> Crumbs:
        return building_crumbs(row.space.building)

    def delete_address(self, row: SpaceFreeTime) -> str:
        return reverse("free_time_delete", args=[row.pk])


class FreeTimeDeletePage(RecordDeletePage[SpaceFreeTime]):
    """The space isn't free then."""

    model = SpaceFreeTime
    permission = CHANGE
    noun = "free time"
    effects_said = "Look at what is planned first:"

    def effects(self, row: SpaceFreeTime) -> list[str]:
        """Planned sessions that fall outside what is free then, or are inside again."""
        me, tried = self.person, copy(row)
        return ends_foreseen(me, row, lambda: records.space_free_time_delete(actor=me, row=tried))

    def delete(self, row: SpaceFreeTime) -> None:
        records.space_free_time_delete(actor=self.person, row=row)

    def back(self, row: SpaceFreeTime) -> str:
        return building_page(row.space.building)

    def crumbs(self, row: SpaceFreeTime) -> Crumbs:
        return building_crumbs(row.space.building)


class ClassMeetingFormPage(RecordFormPage[ClassMeeting]):
    """A class's own physical education time."""

    model = ClassMeeting
    form_class = ClassMeetingForm
    permission = CHANGE
    noun = "class time"
    intro = (
        f"When the class has physical education. A pushed-in service happens inside it and nowhere else. {TIMES}"
    )

    def new_row(self) -> ClassMeeting:
        """For the class that the address names."""
        return ClassMeeting(school_class=find_changeable(SchoolClass, self.person, self.kwargs["school_class"]))

    def title(self, row: ClassMeeting) -> str:
        return f"Physical education of {row.school_class}"

    def save(self, row: ClassMeeting, values: Mapping[str, Any]) -> ClassMeeting:
        return records.class_meeting_save(actor=self.person, row=row, values=values)

    def back(self, row: ClassMeeting) -> str:
        return building_page(row.school_class.building)

    def crumbs(self, row: ClassMeeting) -> Crumbs:
        return building_crumbs(row.school_class.building)

    def delete_address(self, row: ClassMeeting) -> str:
        return reverse("class_meeting_delete", args=[row.pk])


class ClassMeetingDeletePage(RecordDeletePage[ClassMeeting]):
    """The class doesn't meet then."""

    model = ClassMeeting
    permission = CHANGE
    noun = "class time"

    def delete(self, row: ClassMeeting) -> None:
        records.class_meeting_delete(actor=self.person, row=row)

    def back(self, row: ClassMeeting) -> str:
        return building_page(row.school_class.building)

    def crumbs(self, row: ClassMeeting) -> Crumbs:
        return building_crumbs(row.school_class.building)
