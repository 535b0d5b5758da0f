"""Reads of activities and equipment."""

from dataclasses import dataclass, field

from django.db.models import Q, QuerySet

from accounts.models import Person
from accounts.selectors import LastChange, last_change_of
from schedule.equipment.models import Activity, Equipment, EquipmentStock
from travel.places.models import Building


def activities_for(viewer: Person) -> QuerySet[Activity]:
    """The district's activities that are in use."""
    return Activity.objects.visible_to(viewer).in_use().prefetch_related("caution_tags")


def equipment_for(viewer: Person) -> QuerySet[Equipment]:
    """The district's equipment that is in use, with its stocks."""
    return Equipment.objects.visible_to(viewer).in_use().prefetch_related("stocks__building", "stocks__carried_by")


STOCK_UNDO = "stock_take_back"


def last_stock_change(kind: Equipment) -> LastChange | None:
    """What was done last to the places and counts of a kind of equipment."""
    about = Q(changes__equipment__0=kind.pk) | Q(changes__equipment__1=kind.pk)
    rows = kind.stocks.values_list("pk", flat=True)
    return last_change_of(EquipmentStock, kind.district, rows, undo=STOCK_UNDO, about=about)


@dataclass(slots=True)
class StockPlace:
    """A building or a car with what is kept in it."""

    building: Building | None
    carried_by: Person | None
    stocks: list[EquipmentStock] = field(default_factory=list)

    @property
    def title(self) -> str:
        """What the place is called."""
        return str(self.building) if self.building is not None else f"In the car of {self.carried_by}"


def stock_places(viewer: Person) -> list[StockPlace]:
    """All stocks by place: cars first, the viewer's own before the others', then buildings by name."""
    rows = EquipmentStock.objects.filter(equipment__in=Equipment.objects.visible_to(viewer).in_use())
    rows = rows.select_related("equipment", "building", "carried_by").order_by("equipment__name")
    places: dict[tuple[int | None, int | None], StockPlace] = {}
    for row in rows:
        key = (row.building_id, row.carried_by_id)
        places.setdefault(key, StockPlace(row.building, row.carried_by)).stocks.append(row)
    return sorted(places.values(), key=lambda one: (one.building is not None, one.carried_by != viewer, one.title))
