"""Forms of keeping records: rules, holds, words with parents, a list."""

from typing import Any

from django import forms

from accounts.fields import DateField
from accounts.forms import RecordForm, pickers_set
from accounts.models import Person
from caseload.plans.finding.forms import student_choice
from caseload.plans.models import Student
from caseload.retention.models import ErasureHold, ParentsWord, RetentionRule


class RetentionRuleForm(RecordForm):
    """How long records of a kind are kept."""

    class Meta:
        model = RetentionRule
        fields = ["kind", "years", "counts_from", "first_day", "decided_by", "keeps_permanent"]
        labels = {
            "kind": "Which records",
            "years": "Years",
            "counts_from": "Counted from when",
            "first_day": "This rule holds from",
            "decided_by": "Who decided it, and where it is written",
            "keeps_permanent": "Keep the permanent record of students whose records are erased",
        }
        help_texts = {
            "years": "Whole years. Empty: these records are kept without end.",
            "counts_from": "For records about students: when the student left or the services ended.",
            "decided_by": "Such as a board policy with its number and date.",
            "keeps_permanent": "Name, grade, schools, classes and years. Only for students’ records.",  # noqa: RUF001 -- shown
        }


class _AboutStudentForm(RecordForm):
    """Chooses a student by name."""

    def prepare(self) -> None:
        """Students as the viewer may know them; once saved, the student stays."""
        if self.instance.pk:
            del self.fields["student"]
        else:
            student_choice(self, self.viewer, Student.objects.changeable_by(self.viewer))


class ErasureHoldForm(_AboutStudentForm):
    """Why nothing of a student is erased, from when until when."""

    class Meta:
        model = ErasureHold
        fields = ["student", "reason", "words", "first_day", "last_day"]
        labels = {"words": "What it is about", "first_day": "Holds from", "last_day": "Holds until"}


class ParentsWordForm(_AboutStudentForm):
    """What parents were told, or asked for."""

    class Meta:
        model = ParentsWord
        fields = ["student", "kind", "said_on", "how"]
        labels = {"kind": "What was said", "said_on": "On", "how": "How, and where the paper lies"}


class ErasureListForm(forms.Form):
    """As of which day, of whom."""

    as_of = DateField(label="Count up to", help_text="Today or an earlier day.")
    student = forms.ModelChoiceField(
        Student.objects.none(),
        label="Of whom",
        required=False,
        empty_label="Everybody, by the district’s rules",  # noqa: RUF001 -- shown on pages
        help_text="One student only if the parents asked to have the records destroyed.",
    )

    def __init__(self, *args: Any, viewer: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        asked = ParentsWord.objects.filter(kind=ParentsWord.Kind.ASKED).values("student")
        student_choice(self, viewer, Student.objects.visible_to(viewer).filter(pk__in=asked))
        pickers_set(self)


class ErasureConfirmForm(forms.Form):
    """The list that was shown, and that it can't be taken back."""

    digest = forms.CharField(widget=forms.HiddenInput, max_length=64)
    understood = forms.BooleanField(
        label="I know that this can’t be taken back",  # noqa: RUF001 -- shown on pages
        error_messages={"required": "Tick this if you want the records erased for good."},
    )
