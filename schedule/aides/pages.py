"""Pages of aides' hours."""

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from accounts.fields import id_read
from accounts.pages import Crumbs, RecordDeletePage, RecordFormPage, do_and_say, find_changeable, person_of
from accounts.selectors import today_of
from caseload.care.models import Contact
from schedule.aides.forms import AideHoursForm
from schedule.aides.models import AideHours
from schedule.aides.selectors import aides_listed
from schedule.aides.services import aide_hours_remove, aide_hours_save, aide_hours_take_back

CHANGE = "caseload.change"


@require_safe
@permission_required("caseload.view", raise_exception=True)
def aide_list(request: HttpRequest) -> HttpResponse:
    """Every aide with the hours, who needs one there, and who needs one where none is named."""
    return render(request, "schedule/aides/list.html", {"listed": aides_listed(person_of(request))})


def _back(contact: Contact) -> str:
    return f"{reverse('aide_list')}#aide-{contact.pk}"


def _crumbs() -> Crumbs:
    return [("Aides", reverse("aide_list"))]


class AideHoursFormPage(RecordFormPage[AideHours]):
    """Hours of an aide from a day on, or a correction of such."""

    model = AideHours
    form_class = AideHoursForm
    permission = CHANGE
    noun = "set of hours"
    intro = (
        "They hold from that day on, and what held before stays. Planning goes by them for students whose supports "
        "say that an aide is needed. What is planned already stays until it is planned again."
    )

    def new_row(self) -> AideHours:
        """For the aide that the address names."""
        return AideHours(contact=find_changeable(Contact, self.person, self.kwargs["contact"]))

    def initial(self) -> dict[str, Any]:
        return {"first_day": today_of(self.person)}

    def title(self, row: AideHours) -> str:
        return f"{'Correct' if row.pk else 'New'} hours of {row.contact.name}"

    def in_title(self, row: AideHours) -> str:
        """Nothing beside the aide's name."""
        return ""

    def save(self, row: AideHours, values: Mapping[str, Any]) -> AideHours:
        return aide_hours_save(actor=self.person, row=row, values=values)

    def back(self, row: AideHours) -> str:
        return _back(row.contact)

    def crumbs(self, row: AideHours) -> Crumbs:
        return _crumbs()

    def delete_address(self, row: AideHours) -> str:
        return reverse("aide_hours_delete", args=[row.pk])


class AideHoursDeletePage(RecordDeletePage[AideHours]):
    """Take hours away, as if they had never been given."""

    model = AideHours
    permission = CHANGE
    noun = "set of hours"
    can_be_undone = True

    def delete(self, row: AideHours) -> None:
        aide_hours_remove(actor=self.person, row=row)

    def label(self, row: AideHours) -> str:
        return f"{row.contact.name}: {row.times or 'not there at all'}"

    def back(self, row: AideHours) -> str:
        return _back(row.contact)

    def crumbs(self, row: AideHours) -> Crumbs:
        return _crumbs()


@require_POST
@permission_required(CHANGE, raise_exception=True)
def hours_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Undo what was done last to the hours of an aide."""
    person = person_of(request)
    contact, seen = find_changeable(Contact, person, pk), id_read(request.POST.get("seen", ""))
    do_and_say(request, lambda: aide_hours_take_back(actor=person, contact=contact, seen=seen), "Taken back.")
    return redirect(_back(contact))
