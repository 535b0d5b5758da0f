"""Forms of people and of who covers whom."""

from typing import Any

from django import forms

from accounts.fields import RowsField
from accounts.forms import RecordForm
from accounts.models import Person, Substitution, held_from
from accounts.people.hooks import office_buildings
from accounts.people.services import role_rests
from accounts.selectors import today_of


class FindForm(forms.Form):
    """Whom to look for."""

    words = forms.CharField(
        label="Name or sign-in name",
        max_length=150,
        required=False,
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )


class PersonForm(RecordForm):
    """A person who signs in. Buildings are asked of a school office only."""

    needed_sometimes = ("buildings",)
    buildings = RowsField(
        None,
        label="Buildings of this office",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="It sees the published weeks of these buildings, without students.",
    )

    class Meta:
        model = Person
        fields = ["first_name", "last_name", "username", "email", "role", "last_day"]
        labels = {"username": "Sign-in name"}
        help_texts = {
            "username": "Letters, digits and @ . + - _ only.",
            "role": "Further roles are added on the person's page, each with its days.",
        }

    def prepare(self) -> None:
        """Names are asked for; an office's buildings are those that it has."""
        for name in ("first_name", "last_name"):
            self.fields[name].required = True
        offices, buildings = office_buildings(), self.fields["buildings"]
        if isinstance(buildings, RowsField):
            buildings.queryset = offices.visible_to(self.viewer)
        if self.instance.pk:
            buildings.initial = list(offices.chosen(self.instance))
        if not self.instance.pk:
            return
        if role_rests(self.instance):
            # It stays, and each role has its own days, under Roles.
            del self.fields["role"]
        else:
            self.fields["role"].help_text = "Nothing rests on it yet: correct it here. Add others under Roles."

    def clean(self) -> dict[str, Any]:
        """Buildings that were ticked before another role was chosen don't count."""
        values = dict(super().clean() or {})
        stays = "role" not in self.fields
        if not (self.instance.holds(Person.Role.OFFICE) if stays else values.get("role") == Person.Role.OFFICE):
            values["buildings"] = office_buildings().every().none()
        return values


class SubstitutionForm(RecordForm):
    """Who covers whom, from which date to which."""

    class Meta:
        model = Substitution
        fields = ["substitute", "teacher", "first_date", "last_date"]
        labels = {"first_date": "From", "last_date": "Until"}
        help_texts = {
            "last_date": "Including this day. The substitute sees the caseload only while the cover lasts."
        }

    def prepare(self) -> None:
        """Substitutes of the district who may sign in."""
        field = self.fields["substitute"]
        if isinstance(field, forms.ModelChoiceField):
            now_or_later = held_from(today_of(self.viewer), Person.Role.SUBSTITUTE)
            field.queryset = Person.objects.filter(
                now_or_later, district=self.viewer.district, is_active=True, by_link=False
            )
