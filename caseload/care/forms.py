"""Forms of supports, cautions, contacts and tags."""

from django import forms

from accounts.forms import RecordForm
from caseload.care.models import CareSettings, Caution, CautionTag, Contact, Support
from caseload.care.selectors import care_settings_of
from caseload.plans.finding.forms import student_choice

DATED = ["source", "written_on", "first_day", "last_day"]
LABELS = {
    "written_on": "Written on",
    "first_day": "Holds from",
    "last_day": "Holds until",
    "decides": "Who decides",
}


class SupportForm(RecordForm):
    """A support."""

    needed_sometimes = ("other_student",)

    class Meta:
        model = Support
        fields = ["kind", "text", "other_student", "is_provisional", *DATED]
        labels = {**LABELS, "kind": "What it is about", "is_provisional": "Provisional"}

    def prepare(self) -> None:
        """The other student by name, for whoever may know it; never the student's own."""
        choice = self.fields["other_student"]
        choice.help_text = "Only for “goes with” and “kept apart”."
        rows = choice.queryset.exclude(pk=self.instance.student_id)  # type: ignore[attr-defined]  # a choice of rows
        student_choice(self, self.viewer, rows, name="other_student")


class CautionForm(RecordForm):
    """A caution."""

    class Meta:
        model = Caution
        fields = ["kind", "text", "tags", "emergency_steps", "decides", *DATED]
        labels = {**LABELS, "kind": "Kind", "tags": "What it is about"}
        widgets = {"tags": forms.CheckboxSelectMultiple}


class ContactForm(RecordForm):
    """A contact of a student or a class."""

    class Meta:
        model = Contact
        fields = ["role", "name", "phone", "email", "note"]

    def prepare(self) -> None:
        """A parent only where the district keeps them here, and of a student."""
        district = self.viewer.district
        kept = district is not None and care_settings_of(district).keeps_parents
        role = self.fields["role"]
        may = kept and self.instance.student_id
        if isinstance(role, forms.ChoiceField) and not may and self.instance.role != Contact.Role.PARENT:
            role.choices = [one for one in Contact.Role.choices if one[0] != Contact.Role.PARENT]


class CautionTagForm(RecordForm):
    """A tag."""

    class Meta:
        model = CautionTag
        fields = ["name"]


class CareSettingsForm(RecordForm):
    """What the district decided about contacts."""

    class Meta:
        model = CareSettings
        fields = ["keeps_parents"]
        labels = {"keeps_parents": "Parents and guardians are kept among a student's contacts"}
