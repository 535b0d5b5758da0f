"""A statement with two meanings in a table: asked once with both readings, answered there or in the file."""

import pytest
from django.urls import reverse

from accounts.errors import ApplicationError
from caseload.plans.models import ServiceLine
from schedule.calendar.models import SpaceFreeTime
from schedule.imports.files.export import export_rows
from schedule.imports.models import ImportBatch
from schedule.imports.services.answers import import_answer
from schedule.imports.services.tables import import_commit
from schedule.imports.tables.every import find_table
from tests.api import Api
from tests.caseload.test_student_pages import signed_in
from tests.conftest import Cast
from tests.schedule.imports.district import preview
from travel.places.models import Building, Space

OPEN = "60 minutes per week, 2 sessions"
IN_ALL, OF_EACH = "2 x 30 min/week", "2 x 60 min/week"
HEAD = "Student code,Plan start,Plan end,Statement,Setting"


def sent(cast: Cast, head: str = HEAD, *more: str) -> ImportBatch:
    """A second plan for the cast's student with two services that say the same."""
    rows = [f'{cast.student.code},2027-06-21,2028-06-16,"{OPEN}",{how}' for how in ("small group", "one to one")]
    return preview(cast.coordinator, "plans", "\n".join([head, *rows, *more]))


def lines() -> list[ServiceLine]:
    """What was imported."""
    return list(ServiceLine.objects.filter(statement=OPEN).order_by("pk"))


def test_nothing_is_guessed_and_both_readings_are_offered(cast: Cast) -> None:
    batch = sent(cast)
    found = [(one["row"], one["column"], one["readings"]) for one in batch.content["problems"]]
    assert found == [(2, "Statement", [IN_ALL, OF_EACH]), (3, "Statement", [IN_ALL, OF_EACH])]
    with pytest.raises(ApplicationError):
        import_commit(actor=cast.coordinator, batch=batch)
    assert lines() == []


def test_the_preview_asks_once_and_an_answer_is_for_all_rows(cast: Cast) -> None:
    """A button for each reading, in plain forms; then the import can be saved."""
    batch, client = sent(cast), signed_in(cast.coordinator)
    html = client.get(reverse("import_preview", args=[batch.pk])).content.decode()
    assert html.count("What does “60 minutes per week, 2 sessions” mean?") == 1
    assert f'name="reading" value="{OF_EACH}">2 x 60 = 120 minutes a week</button>' in html
    told = {"table": "plans", "value": OPEN, "reading": OF_EACH}
    client.post(reverse("import_answer", args=[batch.pk]), told)
    batch.refresh_from_db()
    assert batch.problem_count == 0
    import_commit(actor=cast.coordinator, batch=batch)
    assert [(one.minutes, one.reading_chosen) for one in lines()] == [(60, True), (60, True)]


def test_the_api_answers_too(cast: Cast) -> None:
    batch, api = sent(cast), Api(cast.coordinator)
    told = {"table": "plans", "value": OPEN, "reading": IN_ALL}
    assert api.post(f"imports/{batch.pk}/answer/", expect=200, **told)["problem_count"] == 0
    assert api.post(f"imports/{batch.pk}/answer/", expect=409, **told)["code"] == "not_asked"


def test_what_is_not_asked_cannot_be_answered(cast: Cast) -> None:
    """Neither a reading that wasn't offered, nor somebody else's import."""
    batch = sent(cast)
    for actor, reading in ((cast.coordinator, "9 x 9 min/week"), (cast.teacher, IN_ALL)):
        with pytest.raises(ApplicationError):
            import_answer(actor=actor, batch=batch, table="plans", value=OPEN, reading=reading)
    assert batch.problem_count == 2


def test_the_file_can_say_the_reading_and_an_export_does(cast: Cast) -> None:
    """Sent back as it was exported, nothing changes and nobody is asked."""
    row = f'{cast.student.code},2027-06-21,2028-06-16,"{OPEN}",small group,{IN_ALL}'
    batch = preview(cast.coordinator, "plans", f"{HEAD},Read as\n{row}")
    import_commit(actor=cast.coordinator, batch=batch)
    assert [one.minutes for one in lines()] == [30]
    table = find_table("plans")
    assert table is not None
    at = [column.name for column in table.columns].index("reading")
    assert [one[at] for one in export_rows(cast.coordinator, table) if OPEN in one] == [IN_ALL]
    again = preview(cast.coordinator, "plans", f"{HEAD},Read as\n{row}")
    assert again.content["problems"] == []
    assert again.content["tallies"]["plans"]["changed"] == 0


# ---- which building is meant -----------------------------------------------------------------------------------

PLACES = "Building code,Space name,Days,Period,Start,End\n"
BUILDINGS = {
    "QRE": "Quill Ridge Elementary School",
    "QRM": "Quill Ridge Middle School",
    "THP": "Tansy Hollow Primary School",
}


def asked(cast: Cast, *written: str) -> ImportBatch:
    """Free times of a gym in buildings as they are written, in a district with three invented ones."""
    for number, (code, name) in enumerate(BUILDINGS.items()):
        building = Building.objects.create(
            district=cast.district, code=code, name=name, latitude=f"43.2{number}", longitude="-75.20"
        )
        Space.objects.create(building=building, name="Gym")
    rows = [f"{one},Gym,Mon,,{9 + number}:00,{9 + number}:40\n" for number, one in enumerate(written)]
    return preview(cast.coordinator, "space-times", PLACES + "".join(rows))


@pytest.mark.parametrize(
    ("written", "offered"),
    [
        ("Quill Ridge", ["Quill Ridge Elementary School", "Quill Ridge Middle School"]),
        ("quill elem.", ["Quill Ridge Elementary School"]),
        ("Tansy", ["Tansy Hollow Primary School"]),
        ("Ridge Quill", []),
        ("Nowhere", []),
    ],
)
def test_a_shorter_form_of_a_building_is_asked_about(cast: Cast, written: str, offered: list[str]) -> None:
    """Also where only one can be meant: nothing is guessed. What is the form of none is a problem as ever."""
    (problem,) = asked(cast, written).content["problems"]
    assert (problem["column"], problem["readings"]) == ("Building code", offered)
    assert "No building has the code or the name" in problem["message"]


def test_a_building_is_said_once_for_all_its_rows(cast: Cast) -> None:
    batch, client = asked(cast, "Quill Ridge", "THP", "Quill Ridge"), signed_in(cast.coordinator)
    page = client.get(reverse("import_preview", args=[batch.pk])).content.decode()
    assert page.count("Which building is “Quill Ridge”?") == 1
    assert page.count('value="Quill Ridge Middle School"') == 1
    told = {"table": "space-times", "value": "Quill Ridge", "reading": "Quill Ridge Middle School"}
    client.post(reverse("import_answer", args=[batch.pk]), told)
    batch.refresh_from_db()
    assert batch.problem_count == 0
    import_commit(actor=cast.coordinator, batch=batch)
    times = SpaceFreeTime.objects.filter(space__building__code__in=("QRM", "QRE", "THP"))
    assert sorted(times.values_list("space__building__code", flat=True)) == ["QRM", "QRM", "THP"]


def test_a_building_that_wasn_t_offered_is_refused(cast: Cast) -> None:
    batch = asked(cast, "Quill Ridge")
    told = {"table": "space-times", "value": "Quill Ridge", "reading": "Tansy Hollow Primary School"}
    with pytest.raises(ApplicationError, match="doesn't ask this"):
        import_answer(actor=cast.coordinator, batch=batch, **told)
