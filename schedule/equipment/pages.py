"""Pages of activities and equipment."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from accounts.fields import id_read
from accounts.pages import (
    Crumbs,
    RecordDeletePage,
    RecordFormPage,
    do_and_say,
    find_changeable,
    find_visible,
    person_of,
)
from schedule.equipment.forms import ActivityForm, CountForm, EquipmentForm, SpaceCautionsForm, StockForm
from schedule.equipment.models import Activity, Equipment, EquipmentStock, SpaceCautions
from schedule.equipment.selectors import activities_for, equipment_for, last_stock_change, stock_places
from schedule.equipment.services import (
    activity_bring_back,
    activity_put_away,
    activity_save,
    equipment_bring_back,
    equipment_put_away,
    equipment_save,
    space_cautions_save,
    stock_count,
    stock_delete,
    stock_save,
    stock_take_back,
)
from travel.places.models import Space
from travel.places.pages.buildings import building_crumbs


@require_safe
@permission_required("caseload.view", raise_exception=True)
def equipment_list(request: HttpRequest) -> HttpResponse:
    """What there is, by place, with taps to count it."""
    viewer = person_of(request)
    kinds = equipment_for(viewer)
    context = {
        "places": stock_places(viewer),
        "nowhere": [one for one in kinds if not one.stocks.all()],
        "put_away": Equipment.objects.visible_to(viewer).filter(removed_at__isnull=False),
        "is_empty": not kinds,
    }
    return render(request, "schedule/equipment/list.html", context)


@require_safe
@permission_required("caseload.view", raise_exception=True)
def equipment_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """One kind: each place with all its counts."""
    viewer = person_of(request)
    kind = find_visible(Equipment, viewer, pk)
    stocks = kind.stocks.select_related("building", "carried_by")
    context = {"kind": kind, "stocks": stocks, "last": last_stock_change(kind), "crumbs": _crumbs()}
    return render(request, "schedule/equipment/detail.html", context)


@require_POST
@permission_required("log.write", raise_exception=True)
def stocks_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Undo what was done last to a kind's places and counts."""
    person = person_of(request)
    kind, seen = find_changeable(Equipment, person, pk), id_read(request.POST.get("seen", ""))
    do_and_say(request, lambda: stock_take_back(actor=person, kind=kind, seen=seen), "Taken back.")
    return redirect("equipment_detail", kind.pk)


@require_safe
@permission_required("caseload.view", raise_exception=True)
def activity_list(request: HttpRequest) -> HttpResponse:
    """The district's activities."""
    viewer = person_of(request)
    put_away = Activity.objects.visible_to(viewer).filter(removed_at__isnull=False)
    context = {"activities": activities_for(viewer), "put_away": put_away, "crumbs": _crumbs()}
    return render(request, "schedule/equipment/activities.html", context)


@require_POST
@permission_required("log.write", raise_exception=True)
def stock_tap(request: HttpRequest, pk: int) -> HttpResponse:
    """Save the figure that a tap sends; safe to send twice."""
    person = person_of(request)
    row = find_changeable(EquipmentStock, person, pk)
    form = CountForm(request.POST, instance=row, viewer=person)
    if form.is_valid():
        do_and_say(request, lambda: stock_count(actor=person, row=row, values=form.cleaned_data))
    else:
        messages.error(request, "Count with whole numbers from 0 up.")
    back = reverse("equipment_detail", args=[row.equipment_id]) if "detail" in request.POST else _list()
    return redirect(f"{back}#stock-{row.pk}")


def _list() -> str:
    return reverse("equipment_list")


def _crumbs(kind: Equipment | None = None) -> Crumbs:
    above = [("Equipment", _list())]
    return above if kind is None else [*above, (kind.name, reverse("equipment_detail", args=[kind.pk]))]


class EquipmentFormPage(RecordFormPage[Equipment]):
    """A new kind of equipment, or a change to one."""

    model = Equipment
    form_class = EquipmentForm
    permission = "district.change"
    noun = "equipment"

    def save(self, row: Equipment, values: Mapping[str, Any]) -> Equipment:
        return equipment_save(actor=self.person, row=row, values=values)

    def back(self, row: Equipment) -> str:
        return reverse("equipment_detail", args=[row.pk]) if row.pk else _list()

    def crumbs(self, row: Equipment) -> Crumbs:
        return _crumbs(row if row.pk else None)


class StockFormPage(RecordFormPage[EquipmentStock]):
    """Another place of some equipment, or a change to one."""

    model = EquipmentStock
    form_class = StockForm
    permission = "district.change"
    noun = "place"

    def new_row(self) -> EquipmentStock:
        """Of the equipment that the address names."""
        return EquipmentStock(equipment=find_changeable(Equipment, self.person, self.kwargs["equipment"]))

    def initial(self) -> dict[str, Any]:
        """A teacher's new equipment rides in the own car until it is put somewhere."""
        return {"carried_by": self.person.pk} if self.person.is_teacher else {}

    def save(self, row: EquipmentStock, values: Mapping[str, Any]) -> EquipmentStock:
        return stock_save(actor=self.person, row=row, values=values)

    def back(self, row: EquipmentStock) -> str:
        return reverse("equipment_detail", args=[row.equipment_id])

    def crumbs(self, row: EquipmentStock) -> Crumbs:
        return _crumbs(row.equipment)

    def delete_address(self, row: EquipmentStock) -> str:
        return reverse("stock_delete", args=[row.pk])


class StockDeletePage(RecordDeletePage[EquipmentStock]):
    """Forget a place."""

    model = EquipmentStock
    permission = "district.change"
    noun = "place"
    can_be_undone = True

    def delete(self, row: EquipmentStock) -> None:
        stock_delete(actor=self.person, row=row)

    def back(self, row: EquipmentStock) -> str:
        return reverse("equipment_detail", args=[row.equipment_id])

    def crumbs(self, row: EquipmentStock) -> Crumbs:
        return _crumbs(row.equipment)


class ActivityFormPage(RecordFormPage[Activity]):
    """A new activity, or a change to one."""

    model = Activity
    form_class = ActivityForm
    permission = "district.change"
    noun = "activity"

    def save(self, row: Activity, values: Mapping[str, Any]) -> Activity:
        return activity_save(actor=self.person, row=row, values=values)

    def back(self, row: Activity) -> str:
        return reverse("activity_list")

    def crumbs(self, row: Activity) -> Crumbs:
        return [*_crumbs(), ("Activities", reverse("activity_list"))]


class SpaceCautionsPage(RecordFormPage[SpaceCautions]):
    """What in a space a student's caution may be about."""

    model = SpaceCautions
    form_class = SpaceCautionsForm
    permission = "district.change"
    noun = "cautions of this space"

    def new_row(self) -> SpaceCautions:
        """That of the space which the address names; there is one at most."""
        space = find_changeable(Space, self.person, self.kwargs["space"])
        return SpaceCautions.objects.filter(space=space).first() or SpaceCautions(space=space)

    def title(self, row: SpaceCautions) -> str:
        return f"What to ask about in {row}"

    def in_title(self, row: SpaceCautions) -> str:
        return ""

    def save(self, row: SpaceCautions, values: Mapping[str, Any]) -> SpaceCautions:
        return space_cautions_save(actor=self.person, row=row, values=values)

    def saved_message(self, row: SpaceCautions) -> str:
        return "It is saved."

    def back(self, row: SpaceCautions) -> str:
        return reverse("building_detail", args=[row.space.building_id])

    def crumbs(self, row: SpaceCautions) -> Crumbs:
        return building_crumbs(row.space.building)


@require_POST
@permission_required("district.change", raise_exception=True)
def equipment_away(request: HttpRequest, pk: int) -> HttpResponse:
    """Put a kind of equipment away."""
    row = find_changeable(Equipment, person_of(request), pk)
    equipment_put_away(actor=person_of(request), row=row)
    messages.success(request, f"{row.name} is put away. You can bring it back at the end of this page.")
    return redirect("equipment_list")


@require_POST
@permission_required("district.change", raise_exception=True)
def equipment_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Bring it back."""
    row = find_changeable(Equipment, person_of(request), pk)
    do_and_say(request, lambda: equipment_bring_back(actor=person_of(request), row=row), f"{row.name} is back.")
    return redirect("equipment_list")


@require_POST
@permission_required("district.change", raise_exception=True)
def activity_away(request: HttpRequest, pk: int) -> HttpResponse:
    """Put an activity away."""
    row = find_changeable(Activity, person_of(request), pk)
    activity_put_away(actor=person_of(request), row=row)
    messages.success(request, f"{row.name} is put away. You can bring it back at the end of this page.")
    return redirect("activity_list")


@require_POST
@permission_required("district.change", raise_exception=True)
def activity_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Bring it back."""
    row = find_changeable(Activity, person_of(request), pk)
    do_and_say(request, lambda: activity_bring_back(actor=person_of(request), row=row), f"{row.name} is back.")
    return redirect("activity_list")
