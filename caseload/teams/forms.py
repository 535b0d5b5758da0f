"""The form of a team."""

from django import forms

from accounts.fields import RowsField
from accounts.forms import RecordForm
from accounts.models import Person, held_from
from accounts.selectors import today_of
from caseload.teams.models import Team


class TeamForm(RecordForm):
    """Who shares a caseload, how far, and from which day to which."""

    members = RowsField(None, label="Teachers", widget=forms.CheckboxSelectMultiple, help_text="Two or more.")

    class Meta:
        model = Team
        fields = ["name", "members", "shares", "first_day", "last_day"]

    def prepare(self) -> None:
        """Teachers of the district who may sign in; who has left stays where the team names them."""
        field = self.fields["members"]
        if isinstance(field, RowsField):
            teaches = Person.objects.filter(held_from(today_of(self.viewer), Person.Role.TEACHER), is_active=True)
            kept = self.instance.members.all() if self.instance.pk else Person.objects.none()
            ids = {*teaches.values_list("pk", flat=True), *kept.values_list("pk", flat=True)}
            rows = Person.objects.filter(district=self.viewer.district, pk__in=ids)
            field.queryset = rows.order_by("last_name", "first_name", "username")
