"""What the stations of a session take is on the day's load list."""

from schedule.class_hour.selectors.load import load_list
from schedule.equipment.models import Equipment, EquipmentStock
from schedule.stations.models import StationEquipment, StationRotation
from schedule.stations.selectors.taking_along import station_needs
from tests.schedule.stations.conftest import Gym


def test_stations_at_the_same_time_add_up_on_the_load_list(class_of_three: Gym) -> None:
    """Four spots at the beam and three at throwing: seven ride along, until the rotation is taken back."""
    gym = class_of_three
    teacher, day = gym.cast.teacher, gym.session.date
    spots = Equipment.objects.create(district=gym.cast.district, name="Poly spots")
    EquipmentStock.objects.create(equipment=spots, carried_by=teacher, count=12)
    for station, count in ((gym.beam, 4), (gym.throwing, 3)):
        StationEquipment.objects.create(station=station, equipment=spots, count=count)
    assert load_list(teacher, teacher, day).car == ()
    gym.make()
    load = load_list(teacher, teacher, day)
    assert [(one.count, one.name) for one in load.car] == [(7, "Poly spots")]
    assert load.without == 0
    StationRotation.objects.update(taken_back_at=gym.session.week.created_at)
    assert station_needs(teacher, day) == {}
    assert load_list(teacher, teacher, day).without == 1
