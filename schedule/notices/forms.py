"""Forms of what a person wants to hear and of what the district decided."""

from accounts.forms import RecordForm
from schedule.notices.models import Hearing, NoticeSettings


class HearingForm(RecordForm):
    """Where mail goes, and what one wants to hear."""

    class Meta:
        model = Hearing
        fields = ["mail", "by_mail", "at_once", "in_the_evening"]

    def prepare(self) -> None:
        """Say which address is kept with the sign-in."""
        if self.viewer.email:
            self.fields["mail"].help_text = f"Empty: {self.viewer.email}, which is kept with your sign-in."


class NoticeSettingsForm(RecordForm):
    """Whether classroom teachers are written to, and when the evening is."""

    class Meta:
        model = NoticeSettings
        fields = ["tells_classes", "evening_at"]
