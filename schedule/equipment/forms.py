"""Forms of activities and equipment."""

from django.forms import CheckboxSelectMultiple

from accounts.forms import RecordForm
from schedule.equipment.models import Activity, Equipment, EquipmentStock, SpaceCautions


class ActivityForm(RecordForm):
    """An activity."""

    class Meta:
        model = Activity
        fields = ["name", "about", "is_loud", "caution_tags"]
        widgets = {"caution_tags": CheckboxSelectMultiple}


class EquipmentForm(RecordForm):
    """A kind of equipment."""

    class Meta:
        model = Equipment
        fields = ["name", "note"]


class StockForm(RecordForm):
    """How much of it is in one place."""

    class Meta:
        model = EquipmentStock
        fields = ["building", "carried_by", "place", "count", "worn", "broken", "lent", "lent_to"]


class CountForm(RecordForm):
    """What a tap counts."""

    class Meta:
        model = EquipmentStock
        fields = ["count", "worn", "broken", "lent"]

    def prepare(self) -> None:
        """Only what was sent counts."""
        for name in [name for name in self.fields if name not in self.data]:
            del self.fields[name]


class SpaceCautionsForm(RecordForm):
    """What in a space a caution may be about."""

    class Meta:
        model = SpaceCautions
        fields = ["caution_tags"]
        widgets = {"caution_tags": CheckboxSelectMultiple}
