"""The form of a role."""

from typing import Any

from django import forms

from accounts.fields import RowsField
from accounts.forms import RecordForm
from accounts.models import Person, PersonRole
from accounts.people.hooks import office_buildings


class PersonRoleForm(RecordForm):
    """Which role, from which day to which. Buildings are asked of a school office only."""

    needed_sometimes = ("buildings",)
    buildings = RowsField(
        None,
        label="Buildings of this office",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="For a school office: it sees the published weeks of these buildings, without students.",
    )

    class Meta:
        model = PersonRole
        fields = ["role", "first_day", "last_day"]
        labels = {"first_day": "From", "last_day": "Until"}

    def prepare(self) -> None:
        """A role that is there stays what it is; its days change."""
        offices, buildings = office_buildings(), self.fields["buildings"]
        if isinstance(buildings, RowsField):
            buildings.queryset = offices.visible_to(self.viewer)
            buildings.initial = list(offices.chosen(self.instance.person))
        if self.instance.pk:
            del self.fields["role"]
            if self.instance.role != Person.Role.OFFICE:
                del self.fields["buildings"]

    def clean(self) -> dict[str, Any]:
        """Buildings that were checked before another role was chosen don't count."""
        values = dict(super().clean() or {})
        if values.get("role", self.instance.role) != Person.Role.OFFICE:
            values.pop("buildings", None)
        return values
