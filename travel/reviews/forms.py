"""The form of a review."""

from django import forms

from accounts.forms import RecordForm
from accounts.models import Person, held_from
from accounts.selectors import today_of
from travel.places.models import BuildingReview


class BuildingReviewForm(RecordForm):
    """Who may see which buildings and dates, and for how long."""

    class Meta:
        model = BuildingReview
        fields = ["reviewer", "buildings", "first_date", "last_date", "opens_on", "ends_on"]
        labels = {
            "first_date": "Shown from",
            "last_date": "Shown until",
            "opens_on": "May look from",
            "ends_on": "May look until",
        }
        help_texts = {
            "first_date": "The first date whose sessions, plans and log are shown.",
            "last_date": "The last one, included.",
            "ends_on": "Including this day. Before and after, the reviewer sees nothing.",
        }
        widgets = {"buildings": forms.CheckboxSelectMultiple}

    def prepare(self) -> None:
        """Reviewers of the district who may sign in."""
        field = self.fields["reviewer"]
        if isinstance(field, forms.ModelChoiceField):
            now_or_later = held_from(today_of(self.viewer), Person.Role.REVIEWER)
            field.queryset = Person.objects.filter(now_or_later, district=self.viewer.district, is_active=True)
