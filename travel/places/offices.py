"""The buildings whose office a person works in, as the accounts floor asks for them by its hook."""

from accounts.people.hooks import OfficeBuildings
from travel.places.models import Building
from travel.places.selectors import office_buildings_chosen
from travel.places.services import office_buildings_save

OFFICES = OfficeBuildings(
    every=Building.objects.all,
    visible_to=Building.objects.visible_to,
    chosen=office_buildings_chosen,
    save=office_buildings_save,
)
