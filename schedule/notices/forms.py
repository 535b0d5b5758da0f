"""Forms of what a person wants to hear, of their devices, and of what the district decided."""

import datetime as dt

from django import forms

from accounts.fields import DateField, date_validate, form_field_of
from accounts.forms import RecordForm
from schedule.notices.models import Hearing, NameRule, NoticeSettings, PushDevice


class HearingForm(RecordForm):
    """Where mail goes, and what one wants to hear."""

    class Meta:
        model = Hearing
        fields = ["mail", "by_mail", "at_once", "in_the_evening"]

    def prepare(self) -> None:
        """Say which address is kept with the sign-in."""
        if self.viewer.email:
            self.fields["mail"].help_text = f"Empty: {self.viewer.email}, which is kept with your sign-in."


class ChangesSeenForm(forms.Form):
    """Which changes somebody saw: of which dates, up to which moment (seconds since 1970)."""

    dates = forms.Field(widget=forms.MultipleHiddenInput)
    until = forms.CharField(required=False, max_length=40)
    week = forms.BooleanField(required=False)

    def clean_dates(self) -> list[dt.date]:
        """Dates as a page writes them."""
        read = [DateField().clean(one) for one in self.cleaned_data["dates"]]
        return [one for one in read if one is not None]

    def clean_until(self) -> dt.datetime:
        """A moment as a page writes it, of this age; without one nothing was seen."""
        text = self.cleaned_data["until"]
        if not text:
            return dt.datetime.fromtimestamp(0, dt.UTC)
        try:
            moment = dt.datetime.fromisoformat(text)
        except ValueError as error:
            message = "This isn't a moment."
            raise forms.ValidationError(message) from error
        date_validate(moment.date())
        return moment if moment.tzinfo is not None else moment.replace(tzinfo=dt.UTC)


class DeviceForm(RecordForm):
    """What a device is called."""

    class Meta:
        model = PushDevice
        fields = ["label"]


class DeviceAddForm(forms.Form):
    """What a browser gives when somebody turns messages on in it, sent by schedule/devices.js."""

    label = forms.CharField(max_length=60)
    endpoint = forms.CharField(max_length=1000)
    receiver_key = forms.CharField(max_length=100)
    secret = forms.CharField(max_length=40)
    server_key = forms.CharField(max_length=100)


class NameRuleForm(RecordForm):
    """From which day on, and how by each way."""

    class Meta:
        model = NameRule
        fields = ["first_date", "mail", "push"]
        formfield_callback = form_field_of


class NoticeSettingsForm(RecordForm):
    """Whether classroom teachers are written to, and when the evening is."""

    class Meta:
        model = NoticeSettings
        fields = ["tells_classes", "evening_at"]
