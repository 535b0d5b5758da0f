"""Where a service is held, said by a person: on the form, by the API, by a table; from a day on; taken back."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from caseload.plans.models import ServiceLine
from caseload.plans.services import change_undo, service_change, service_line_save, student_move
from tests.api import Api
from tests.caseload.test_student_pages import signed_in
from tests.conftest import Cast
from travel.places.models import Space

FROM = dt.date(2026, 10, 5)
CAUTION = "lifeguards decide"


@pytest.fixture
def pool(cast: Cast) -> Space:
    """In the other building."""
    return Space.objects.create(building=cast.south, name="Pool", kind="pool")


def to_the_pool(cast: Cast, pool: Space, **values: object) -> ServiceLine:
    terms = {"held_in": pool, "way_minutes": 10, **values}
    return service_change(actor=cast.teacher, row=cast.line, from_day=FROM, values=terms, seen=None)


def test_it_changes_from_a_day_on_and_is_taken_back(cast: Cast, pool: Space) -> None:
    """Days before stay at the school."""
    new = to_the_pool(cast, pool)
    assert [(one.held_in, one.way_minutes) for one in ServiceLine.objects.order_by("start")] == [
        (None, 0),
        (pool, 10),
    ]
    change_undo(actor=cast.teacher, row=new.service)
    assert ServiceLine.objects.get().held_in is None


def test_it_ends_from_a_day_on(cast: Cast, pool: Space) -> None:
    """Nothing chosen says something: at the student's own school again."""
    new, day = to_the_pool(cast, pool), dt.date(2026, 11, 2)
    here = {"held_in": None, "way_minutes": 0}
    back = service_change(actor=cast.teacher, row=new, from_day=day, values=here, seen=None)
    assert (back.start, back.held_in, back.way_minutes) == (day, None, 0)


@pytest.mark.parametrize(
    ("field", "values", "words"),
    [
        ("held_in", {"service_type": "consultation"}, "needs no space"),
        ("way_minutes", {"held_in": None}, "or enter 0"),
        ("way_minutes", {"way_minutes": 61}, "60"),
    ],
)
def test_what_doesnt_go_together_is_refused_at_its_field(
    cast: Cast, pool: Space, field: str, values: dict[str, object], words: str
) -> None:
    """With what to do."""
    given = {"held_in": pool, "way_minutes": 5, **values}
    with pytest.raises(ValidationError) as caught:
        service_line_save(actor=cast.teacher, row=cast.line, values=given)
    assert words in caught.value.message_dict[field][0]


def test_a_space_of_the_own_school_is_chosen_elsewhere(cast: Cast, pool: Space) -> None:
    """And one of both kinds at a time."""
    with pytest.raises(ValidationError) as caught:
        service_line_save(actor=cast.teacher, row=cast.line, values={"held_in": cast.gym})
    assert "allowed spaces" in caught.value.message_dict["held_in"][0]
    with pytest.raises(ValidationError) as caught:
        service_line_save(actor=cast.teacher, row=cast.line, values={"held_in": pool, "allowed_spaces": [cast.gym]})
    assert "Clear one of the two" in caught.value.message_dict["held_in"][0]


def test_the_page_offers_other_buildings_spaces_and_says_who_decides(cast: Cast, pool: Space) -> None:
    """Before it is saved the page says what changes; afterward the student's page says where."""
    client = signed_in(cast.teacher)
    address = reverse("service_change", args=[cast.line.pk])
    page = client.get(address).content.decode()
    assert CAUTION in page
    assert "South Hollow School: Pool" in page
    assert "North Hollow School: Gym" not in page.split('name="held_in"')[1].split("</select>")[0]
    line = {
        "from_day": FROM.isoformat(),
        "statement": cast.line.statement,
        "setting": cast.line.setting,
        "largest_group": "1",
        "days_apart": "1",
        "held_in": str(pool.pk),
        "way_minutes": "10",
        "seen": "1",
    }
    shown = client.post(address, line).content.decode()
    assert "It is held at South Hollow School, Pool: you drive there" in shown
    assert ServiceLine.objects.count() == 1


def test_the_students_page_says_where_and_who_decides(cast: Cast, pool: Space) -> None:
    """With the minutes on the way."""
    service_line_save(actor=cast.teacher, row=cast.line, values={"held_in": pool, "way_minutes": 10})
    page = signed_in(cast.teacher).get(reverse("student_detail", args=[cast.student.pk])).content.decode()
    assert "held at South Hollow School, Pool (10 minutes on the way, each way)" in page
    assert CAUTION in page


def test_the_api_says_the_same_and_what_would_change(cast: Cast, pool: Space) -> None:
    """A space of another district can't be chosen."""
    api = Api(cast.teacher)
    address = f"service-lines/{cast.line.pk}/"
    terms = {"from_day": "2026-10-05", "held_in": pool.pk, "way_minutes": 10, "revision": 1}
    told = api.post(f"{address}change/effects/", **terms, expect=200)["effects"]
    assert any("South Hollow School, Pool" in one for one in told)
    assert ServiceLine.objects.count() == 1
    saved = api.post(f"{address}change/", **terms, expect=200)
    assert (saved["held_in"], saved["way_minutes"], saved["start"]) == (pool.pk, 10, "2026-10-05")


def test_who_moves_to_that_building_has_the_pool_at_school(cast: Cast, pool: Space) -> None:
    """From the day of the move on it is one of the own school's spaces, without a way."""
    service_line_save(actor=cast.teacher, row=cast.line, values={"held_in": pool, "way_minutes": 10})
    student_move(actor=cast.teacher, student=cast.student, from_day=FROM, values={"building": cast.south})
    line = ServiceLine.objects.get(start=FROM)
    assert (line.held_in, line.way_minutes, list(line.allowed_spaces.all())) == (None, 0, [pool])
    assert ServiceLine.objects.get(end=FROM - dt.timedelta(days=1)).held_in == pool
