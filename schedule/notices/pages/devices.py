"""Devices on which messages are shown. One is turned on by a script (schedule/devices.js), the rest is forms."""

from collections.abc import Callable, Mapping
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from accounts.models import Person
from accounts.pages import Crumbs, RecordFormPage, do_and_say, find_changeable, person_of
from schedule.notices.forms import DeviceAddForm, DeviceForm
from schedule.notices.models import PushDevice
from schedule.notices.services import devices as services
from schedule.notices.services.settings import HEAR

INCOMPLETE = "The browser didn't say enough. Load the page again, and turn messages on once more."


class DevicePage(RecordFormPage[PushDevice]):
    """What a device is called."""

    model = PushDevice
    form_class = DeviceForm
    permission = HEAR
    noun = "device"

    def title(self, row: PushDevice) -> str:
        return "Name of the device"

    def save(self, row: PushDevice, values: Mapping[str, Any]) -> PushDevice:
        return services.device_rename(actor=self.person, row=row, values=values)

    def back(self, row: PushDevice) -> str:
        return reverse("notices")

    def crumbs(self, row: PushDevice) -> Crumbs:
        return [("Messages", reverse("notices"))]


@require_POST
def device_new(request: HttpRequest) -> HttpResponse:
    """Messages are turned on in the browser that sends this."""
    person = person_of(request)
    if not person.has_perm(HEAR):
        raise PermissionDenied
    form = DeviceAddForm(request.POST)
    if form.is_valid():
        done = "Messages come to this device from now on. Send it a test message to see one."
        do_and_say(request, lambda: services.device_add(actor=person, **form.cleaned_data), done)
    else:
        messages.error(request, INCOMPLETE)
    return redirect("notices")


def _pressed(
    request: HttpRequest, pk: int, service: Callable[[Person, PushDevice], object], done: str
) -> HttpResponse:
    """Do it with an own device, say so, and go back."""
    person = person_of(request)
    if not person.has_perm(HEAR):
        raise PermissionDenied
    row = find_changeable(PushDevice, person, pk)
    do_and_say(request, lambda: service(person, row), done)
    return redirect("notices")


@require_POST
def device_off(request: HttpRequest, pk: int) -> HttpResponse:
    """No more messages there."""
    done = "Messages to this device are turned off."
    return _pressed(request, pk, lambda actor, row: services.device_stop(actor=actor, row=row), done)


@require_POST
def device_on(request: HttpRequest, pk: int) -> HttpResponse:
    """Messages there again."""
    done = "Messages come to this device again."
    return _pressed(request, pk, lambda actor, row: services.device_resume(actor=actor, row=row), done)


@require_POST
def device_out(request: HttpRequest, pk: int) -> HttpResponse:
    """Forget one that is turned off."""
    done = "The device is removed. It can be turned on again there."
    return _pressed(request, pk, lambda actor, row: services.device_delete(actor=actor, row=row), done)


@require_POST
def device_trial(request: HttpRequest, pk: int) -> HttpResponse:
    """A message that says that it works."""
    done = "It is on its way. Below is what became of it."
    return _pressed(request, pk, lambda actor, row: services.device_try(actor=actor, row=row), done)
