"""The pages of equipment: counting by tap, putting away, bringing back."""

from django.test import Client

from schedule.equipment.models import Activity, Equipment, EquipmentStock
from tests.conftest import Cast


def signed_in(cast: Cast) -> Client:
    """The teacher's browser."""
    client = Client()
    client.force_login(cast.teacher)
    return client


def test_from_an_empty_page_to_a_count(cast: Cast) -> None:
    """Add a kind, say where it rides, tap: each tap sends the figure that it makes, so twice changes it once."""
    client = signed_in(cast)
    assert "No equipment yet." in client.get("/equipment/").text
    page = client.post("/equipment/new/", {"name": "Poly spots"}, follow=True)
    assert "Nowhere yet." in page.text
    kind = Equipment.objects.get()
    assert "Nowhere yet" in client.get("/equipment/").text
    values = {"carried_by": cast.teacher.pk, "count": 12, "worn": 0, "broken": 0, "lent": 0}
    client.post(f"/equipment/{kind.pk}/places/new/", values)
    stock = EquipmentStock.objects.get()
    for _ in range(2):
        answer = client.post(f"/equipment/places/{stock.pk}/count/", {"broken": "1", "detail": "1"})
        assert answer.headers["Location"] == f"/equipment/{kind.pk}/#stock-{stock.pk}"
    assert "11 to use" in client.get("/equipment/").text
    page = client.post(f"/equipment/places/{stock.pk}/count/", {"lent": "12"}, follow=True)
    assert "Count them again" in page.text
    page = client.post(f"/equipment/places/{stock.pk}/count/", {"count": "many"}, follow=True)
    assert "whole numbers" in page.text
    assert EquipmentStock.objects.get().usable == 11


def test_put_away_and_back(cast: Cast) -> None:
    """By one press each; a name that was taken since is said."""
    client = signed_in(cast)
    client.post("/equipment/activities/new/", {"name": "Parachute"})
    activity = Activity.objects.get()
    page = client.post(f"/equipment/activities/{activity.pk}/put-away/", follow=True)
    assert "Parachute is put away" in page.text
    client.post("/equipment/activities/new/", {"name": "Parachute"})
    page = client.post(f"/equipment/activities/{activity.pk}/bring-back/", follow=True)
    assert "Another activity has this name" in page.text
    client.post("/equipment/new/", {"name": "Poly spots"})
    kind = Equipment.objects.get()
    client.post(f"/equipment/{kind.pk}/put-away/")
    assert "This is put away" in client.get(f"/equipment/{kind.pk}/").text
    assert "Put away" in client.get("/equipment/").text
    page = client.post(f"/equipment/{kind.pk}/bring-back/", follow=True)
    assert "Poly spots is back" in page.text


def test_a_place_is_forgotten_and_taken_back(cast: Cast) -> None:
    """The page that deletes says that it can be; the kind's page has the press."""
    client = signed_in(cast)
    client.post("/equipment/new/", {"name": "Poly spots"})
    kind = Equipment.objects.get()
    client.post(
        f"/equipment/{kind.pk}/places/new/",
        {"carried_by": cast.teacher.pk, "count": 12, "worn": 0, "broken": 0, "lent": 0},
    )
    stock = EquipmentStock.objects.get()
    assert "It can be taken back afterwards." in client.get(f"/equipment/places/{stock.pk}/delete/").text
    client.post(f"/equipment/places/{stock.pk}/delete/")
    page = client.get(f"/equipment/{kind.pk}/")
    assert "removed this place of equipment" in page.text
    answer = client.post(f"/equipment/{kind.pk}/take-back/", {"seen": page.context["last"].entry.pk}, follow=True)
    assert "12 of 12 to use" in answer.text
