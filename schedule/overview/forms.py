"""What the coordinator's page is narrowed to."""

from typing import Any

from django import forms

from accounts.models import Person
from caseload.plans.models import ServiceLine
from schedule.overview.sums import BY_WORDS, By, OverviewAsked
from schedule.weeks.selectors.pages import teachers_for
from travel.places.models import Building


class OverviewForm(forms.Form):
    """By what minutes are added up, and of whom, where and what."""

    by = forms.ChoiceField(label="Add up by", choices=[(one.value, words) for one, words in BY_WORDS.items()])
    teacher = forms.ModelChoiceField(Person.objects.none(), required=False, empty_label="Every teacher")
    building = forms.ModelChoiceField(
        Building.objects.none(), label="School", required=False, empty_label="Every school"
    )
    service = forms.ChoiceField(
        label="Service", required=False, choices=[("", "Both kinds"), *ServiceLine.Type.choices]
    )

    def __init__(self, *args: Any, viewer: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._choose("teacher", teachers_for(viewer))
        self._choose("building", Building.objects.visible_to(viewer).order_by("name"))

    def _choose(self, name: str, rows: Any) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ModelChoiceField)  # noqa: S101 -- for the type checker
        field.queryset = rows

    @property
    def asked(self) -> OverviewAsked:
        """What is chosen; all of the district where the form doesn't hold."""
        if not self.is_valid():
            return OverviewAsked()
        found = self.cleaned_data
        return OverviewAsked(
            By(found["by"]),
            found["teacher"].pk if found["teacher"] else None,
            found["building"].pk if found["building"] else None,
            found["service"],
        )
