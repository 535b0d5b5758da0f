"""What there is, where it stays or rides, and what is broken, worn or lent."""

import pytest
from django.core.exceptions import ValidationError

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from schedule.equipment.models import Activity, Equipment, EquipmentStock
from schedule.equipment.selectors import stock_places
from schedule.equipment.services import (
    activity_bring_back,
    activity_put_away,
    activity_save,
    equipment_put_away,
    equipment_save,
    stock_count,
    stock_delete,
    stock_save,
    stock_take_back,
)
from tests.api import Api
from tests.conftest import Cast


def spots(cast: Cast) -> Equipment:
    """A kind of equipment."""
    return equipment_save(actor=cast.teacher, row=Equipment(), values={"name": "Poly spots"})


def in_car(cast: Cast, **values: object) -> EquipmentStock:
    """Twelve of them in the teacher's car."""
    row = EquipmentStock(equipment=spots(cast))
    return stock_save(actor=cast.teacher, row=row, values={"carried_by": cast.teacher, "count": 12, **values})


def test_what_can_be_used_is_neither_broken_nor_lent(cast: Cast) -> None:
    """Worn equipment is still used."""
    assert in_car(cast, broken=2, lent=3, worn=4).usable == 7


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"broken": 7, "lent": 6}, "Count them again"),
        ({"worn": 13}, "More are worn"),
        ({"carried_by": None}, "one of the two"),
        ({"count": -1}, "greater than or equal to 0"),
    ],
)
def test_a_stock_adds_up_and_is_somewhere(cast: Cast, values: dict[str, object], words: str) -> None:
    """No more broken and lent than there are; in a building or in a car."""
    with pytest.raises(ValidationError, match=words):
        in_car(cast, **values)
    assert not EquipmentStock.objects.exists()


def test_it_is_in_a_building_or_in_a_car(cast: Cast) -> None:
    """Not in both at once, and nobody's car is loaded who doesn't teach."""
    with pytest.raises(ValidationError, match="one of the two"):
        in_car(cast, building=cast.north)
    row = EquipmentStock(equipment=Equipment.objects.get())
    with pytest.raises(ValidationError, match="Only a teacher's car"):
        stock_save(actor=cast.coordinator, row=row, values={"carried_by": cast.coordinator})


def test_one_name_once_whatever_its_case_until_it_is_put_away(cast: Cast) -> None:
    """A name is free again after that; bringing the first back is refused then, in words."""
    kind = spots(cast)
    with pytest.raises(ValidationError, match="already"):
        equipment_save(actor=cast.teacher, row=Equipment(), values={"name": "poly SPOTS"})
    first = activity_save(actor=cast.teacher, row=Activity(), values={"name": "Parachute"})
    activity_put_away(actor=cast.teacher, row=first)
    activity_save(actor=cast.teacher, row=Activity(), values={"name": "Parachute"})
    with pytest.raises(ValidationError, match="Another activity has this name"):
        activity_bring_back(actor=cast.teacher, row=first)
    equipment_put_away(actor=cast.teacher, row=kind)
    assert stock_places(cast.teacher) == []


def test_a_substitute_counts_and_changes_nothing_else(cast: Cast) -> None:
    """What was counted is in the audit, from and to."""
    row = in_car(cast)
    stock_count(actor=cast.substitute, row=row, values={"broken": 1})
    assert EquipmentStock.objects.get().usable == 11
    assert AuditEntry.objects.get(action="stock_count").changes == {"broken": [0, 1]}
    with pytest.raises(ApplicationError, match="role"):
        stock_save(actor=cast.substitute, row=row, values={"count": 3})
    with pytest.raises(ApplicationError, match="nothing here"):
        stock_count(actor=cast.stranger, row=row, values={"broken": 1})


def test_the_own_car_comes_first_then_others_then_buildings(cast: Cast) -> None:
    """As a teacher reads the list in the morning."""
    row = in_car(cast)
    for place in ({"building": cast.north}, {"carried_by": cast.mate}):
        stock_save(actor=cast.mate, row=EquipmentStock(equipment=row.equipment), values={**place, "count": 1})
    titles = [one.title for one in stock_places(cast.mate)]
    assert titles == [f"In the car of {cast.mate}", f"In the car of {cast.teacher}", cast.north.name]


def test_by_the_api_it_is_put_away_and_brought_back(cast: Cast) -> None:
    """With its counts as they were; in between it isn't there."""
    api = Api(cast.teacher)
    kind = api.post("equipment/", name="Poly spots")
    stock = api.post("equipment-stocks/", equipment=kind["id"], building=cast.north.pk, count=8)
    assert api.post(f"equipment-stocks/{stock['id']}/tally/", expect=200, worn=2)["usable"] == 8
    api.post(f"equipment-stocks/{stock['id']}/tally/", expect=400, broken=9)
    api.delete(f"equipment/{kind['id']}/")
    api.get(f"equipment/{kind['id']}/", expect=404)
    assert api.get("equipment-stocks/")["count"] == 0
    api.post(f"equipment/{kind['id']}/bring-back/", expect=200)
    assert api.get(f"equipment-stocks/{stock['id']}/")["worn"] == 2
    activity = api.post("activities/", name="Parachute", is_loud=True)
    api.delete(f"activities/{activity['id']}/")
    assert api.get("activities/")["count"] == 0
    assert api.post(f"activities/{activity['id']}/bring-back/", expect=200)["name"] == "Parachute"


def test_a_place_that_was_forgotten_and_a_count_are_taken_back(cast: Cast) -> None:
    """The place with all its counts, once; a count by whoever may count, a place by who may change places."""
    stock = in_car(cast, broken=2, place="Trunk")
    kind = stock.equipment
    stock_count(actor=cast.substitute, row=stock, values={"broken": 5})
    stock_take_back(actor=cast.substitute, kind=kind)
    stock.refresh_from_db()
    assert stock.broken == 2
    with pytest.raises(ApplicationError, match="no change to take back"):
        stock_take_back(actor=cast.teacher, kind=kind)
    stock_delete(actor=cast.teacher, row=stock)
    with pytest.raises(ApplicationError, match="role"):
        stock_take_back(actor=cast.substitute, kind=kind)
    api = Api(cast.teacher)
    api.post(f"equipment/{kind.pk}/take-back/", expect=204)
    back = EquipmentStock.objects.get()
    assert (back.carried_by, back.count, back.broken, back.place) == (cast.teacher, 12, 2, "Trunk")
    assert api.post(f"equipment/{kind.pk}/take-back/", expect=409)["code"] == "nothing_to_undo"


def test_a_place_that_another_has_now_isnt_put_back(cast: Cast) -> None:
    """It is refused in words; what is there stays."""
    stock = in_car(cast)
    kind = stock.equipment
    stock_delete(actor=cast.teacher, row=stock)
    EquipmentStock.objects.create(equipment=kind, carried_by=cast.teacher, count=3)
    with pytest.raises(ValidationError, match="entry for this car already"):
        stock_take_back(actor=cast.teacher, kind=kind)
    assert EquipmentStock.objects.get().count == 3
