"""The drive times that a week is planned with hold at the worst time of the contract day."""

from accounts.models import Person
from schedule.calendar.models import ContractDay
from schedule.weeks.planning.load import load_week
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, make_ground, make_line
from travel.drives.models import DriveFactor


def minutes(teacher: Person) -> int:
    """From north to south in the week's problem."""
    return load_week(teacher, MONDAY).problem.drive_minutes["NORTH"]["SOUTH"]


def test_a_rush_within_the_contract_day_counts_and_one_outside_does_not(cast: Cast) -> None:
    make_ground(cast)
    make_line(cast, "F1", building=cast.south)
    first = min(ContractDay.objects.filter(teacher=cast.teacher).values_list("start", flat=True))
    calm = minutes(cast.teacher)
    rush = DriveFactor.objects.create(district=cast.district, start="00:10", end=first, factor="3.00")
    assert minutes(cast.teacher) == calm
    rush.start, rush.end = first, first.replace(hour=first.hour + 1)
    rush.save()
    # The middle of the estimate times 3, rounded up: within two minutes of 3 times the rounded one.
    assert 3 * calm - 3 < minutes(cast.teacher) <= 3 * calm
