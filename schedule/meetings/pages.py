"""Pages of common meetings."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from accounts.fields import id_read
from accounts.pages import (
    Crumbs,
    ListPage,
    RecordDeletePage,
    RecordFormPage,
    do_and_say,
    list_page,
    person_of,
)
from accounts.selectors import today_of
from caseload.plans.names import name_warnings
from schedule.calendar.words import listed
from schedule.meetings.forms import CommonMeetingForm
from schedule.meetings.hooks import taken_in_force
from schedule.meetings.models import CommonMeeting
from schedule.meetings.selectors import (
    asked_again,
    last_meeting_change,
    meetings_listed,
    meetings_shown,
    when_words,
)
from schedule.meetings.services import (
    common_meeting_answer,
    common_meeting_remove,
    common_meeting_save,
    common_meeting_take_back,
)

CHANGE = "week.change"


@require_safe
@permission_required(CHANGE, raise_exception=True)
def common_meetings(request: HttpRequest) -> HttpResponse:
    """Every common meeting of the person, or of the district for a coordinator."""
    person = person_of(request)
    page: ListPage[CommonMeeting] = list_page(request, meetings_listed(person))
    context = {"page": page, "meetings": meetings_shown(person, page.rows), "last": last_meeting_change(person)}
    return render(request, "schedule/meetings/list.html", context)


def _list() -> str:
    return reverse("common_meetings")


class CommonMeetingFormPage(RecordFormPage[CommonMeeting]):
    """One meeting for several people, or a change for all of them."""

    model = CommonMeeting
    form_class = CommonMeetingForm
    permission = CHANGE
    noun = "common meeting"
    intro = (
        "It takes the same time in the week of each, with the drive to its place. A day without school leaves it "
        "out. What is planned already stays until it is planned again."
    )
    effects_said = "Look at this before it is saved. Nothing is saved yet."
    effects_button = "Save all the same"

    def initial(self) -> dict[str, Any]:
        return {"first_day": today_of(self.person)}

    def effects(self, row: CommonMeeting, values: Mapping[str, Any]) -> list[str]:
        """A student's name in the title, who is asked again, and sessions of weeks in force at that time."""
        wanted = CommonMeeting(kind=row.kind, **{name: value for name, value in values.items() if name != "people"})
        people = [*values["people"]] if self.person.is_coordinator else [self.person]
        return [
            *name_warnings(self.person, values.get("title", "")),
            *self._asked_again(row, values),
            *taken_in_force(wanted, people, today_of(self.person)),
        ]

    def _asked_again(self, row: CommonMeeting, values: Mapping[str, Any]) -> list[str]:
        again = [str(one) for one in asked_again(self.person, row, values) if one in values["people"]]
        said = "said yes and is" if len(again) == 1 else "said yes and are"
        return [f"{listed(again)} {said} asked again."] if again else []

    def save(self, row: CommonMeeting, values: Mapping[str, Any]) -> CommonMeeting:
        return common_meeting_save(actor=self.person, row=row, values=values)

    def saved_message(self, row: CommonMeeting) -> str:
        return "Saved for all. Weeks that are planned from now on have it."

    def back(self, row: CommonMeeting) -> str:
        return _list()

    def crumbs(self, row: CommonMeeting) -> Crumbs:
        return [("Common meetings", _list())]

    def delete_address(self, row: CommonMeeting) -> str:
        return reverse("common_meeting_delete", args=[row.pk])


class CommonLunchFormPage(CommonMeetingFormPage):
    """A wish of several people for lunch at one time in one place."""

    noun = "common lunch"
    intro = (
        "Planning leads the lunch of each to the same time in the same school, where it can be had. No minute that "
        "is owed is given up for it, nobody goes without lunch, and it takes no more driving than you say. What is "
        "planned already stays until it is planned again."
    )

    def new_row(self) -> CommonMeeting:
        return CommonMeeting(kind=CommonMeeting.Kind.LUNCH)

    def initial(self) -> dict[str, Any]:
        return {**super().initial(), "start": dt.time(10, 45), "end": dt.time(13, 30), "worth_minutes": 10}

    def saved_message(self, row: CommonMeeting) -> str:
        return "Saved for all. Weeks that are planned from now on are led to it."


class CommonMeetingDeletePage(RecordDeletePage[CommonMeeting]):
    """Take it out of everybody's days."""

    model = CommonMeeting
    permission = CHANGE
    noun = "common meeting"
    can_be_undone = True

    def delete(self, row: CommonMeeting) -> None:
        common_meeting_remove(actor=self.person, row=row)

    def label(self, row: CommonMeeting) -> str:
        return f"{row.title}: {when_words(row)}"

    def back(self, row: CommonMeeting) -> str:
        return _list()

    def crumbs(self, row: CommonMeeting) -> Crumbs:
        return [("Common meetings", _list())]


@require_POST
@permission_required(CHANGE, raise_exception=True)
def common_meeting_say(request: HttpRequest, pk: int) -> HttpResponse:
    """Come to a meeting that a colleague called, or not."""
    person = person_of(request)
    row = get_object_or_404(CommonMeeting.objects.answerable_by(person), pk=pk)
    comes = "comes" in request.POST
    done = "It is in your days. Weeks that you plan from now on have it." if comes else "It isn’t in your days."  # noqa: RUF001 -- as it is written
    do_and_say(request, lambda: common_meeting_answer(actor=person, row=row, comes=comes), done)
    return redirect(_list())


@require_POST
@permission_required(CHANGE, raise_exception=True)
def common_meetings_take_back(request: HttpRequest) -> HttpResponse:
    """Undo what was done last to common meetings."""
    person, seen = person_of(request), id_read(request.POST.get("seen", ""))
    do_and_say(request, lambda: common_meeting_take_back(actor=person, seen=seen), "Taken back.")
    return redirect(_list())
