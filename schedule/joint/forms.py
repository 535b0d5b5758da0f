"""The form of joint sessions."""

from django import forms
from django.forms.models import ModelChoiceField

from accounts.forms import RecordForm
from accounts.selectors import today_of
from schedule.joint.models import JointService
from schedule.joint.selectors import service_words, services_beside


class JointServiceForm(RecordForm):
    """Which service of another teacher, how many sessions, from which day on."""

    class Meta:
        model = JointService
        fields = ["partner", "times_a_week", "first_day", "last_day"]

    def prepare(self) -> None:
        """Only services of other teachers that the same student has, called by their terms and their teacher."""
        field: forms.Field = self.fields["partner"]
        day = today_of(self.viewer)
        if isinstance(field, ModelChoiceField):
            kept = self.instance.first_day if self.instance.pk else day
            field.queryset = services_beside(self.instance.service, min(day, kept))
            field.label_from_instance = lambda service: service_words(service, day)  # type: ignore[assignment]
