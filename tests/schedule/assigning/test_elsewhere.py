"""A service that is held in another building is shared out where it is held. Common practice, no source."""

import pytest

from caseload.plans.models import ServiceLine
from jobs.models import Job
from schedule.assigning.selectors.loading import staffing_load
from schedule.assigning.selectors.shown import proposal_view
from schedule.assigning.selectors.standing import proposal_get
from schedule.assigning.services.taking_over import proposal_take_over
from tests.conftest import Cast
from tests.schedule.assigning.ground import BEFORE, DAY, first_of, make_crossed, proposed, with_teacher
from tests.schedule.assigning.test_taking_over import serving
from tests.schedule.builders import make_bells
from travel.places.models import Building, Space


@pytest.fixture
def pool(cast: Cast) -> Space:
    """In a third building, in which nobody is at school; N2 and N3 of the mate swim there."""
    make_crossed(cast)
    high = Building.objects.create(
        district=cast.district, code="HIGH", name="High Fell", level="high", latitude="43.2", longitude="-75.1"
    )
    make_bells(high)
    found = Space.objects.create(building=high, name="Pool", kind="pool")
    ServiceLine.objects.filter(plan__student__code__in=["N2", "N3"]).update(held_in=found, way_minutes=5)
    return found


def test_it_is_asked_where_it_is_held(cast: Cast, pool: Space) -> None:
    """In the drives, and with starts there; the student's own school is a place only for what is held in it."""
    question = staffing_load(cast.district, [cast.mate, cast.teacher], DAY, cast.coordinator).question
    places = {one.label: one.place for one in question.services}
    assert sorted(places.values()) == ["HIGH", "HIGH", "NORTH", "SOUTH", "SOUTH"]
    swimming = [one for one in question.services if one.place == "HIGH"]
    assert {start.place for one in swimming for start in one.starts} == {"HIGH"}
    assert "HIGH" in question.drive_minutes["NORTH"]
    assert {one.place.id for one in question.sites} == {"NORTH", "SOUTH", "HIGH"}


def test_it_is_proposed_shown_and_taken_over(cast: Cast, pool: Space) -> None:
    row = proposed(cast)
    assert row.job.state == Job.State.DONE, row.job.error
    least = first_of(row)
    view = proposal_view(cast.coordinator, proposal_get(cast.coordinator, least.pk), BEFORE.date())
    shown = {one.building for teacher in view.teachers for one in teacher.buildings}
    assert "High Fell" in shown
    proposal_take_over(actor=cast.coordinator, row=least, now=BEFORE)
    of_teacher, now = with_teacher(least, cast.teacher), serving(DAY)
    assert now == {code: "teacher" if code in of_teacher else "mate" for code in now}
    held = ServiceLine.objects.filter(plan__student__code__in=["N2", "N3"], end__gte=DAY)
    assert {one.held_in for one in held} == {pool}
