"""A field for one student: a list to choose from, or in a long district a name or code to find."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.forms.models import ModelChoiceField

from accounts.fields import id_read
from accounts.forms import RowChoice
from accounts.models import Person
from accounts.pages import A_PAGE
from caseload.plans.finding.selectors import (
    StudentsOffered,
    student_meant,
    student_offered,
    students_matching,
    students_offered,
    words_read,
)
from caseload.plans.models import Student
from caseload.plans.names import student_names

NOBODY = "No student here has these words in the name or code. Write a part of the name, or the code."
CHOOSE = "Choose the student below."


def student_choice(form: forms.BaseForm, viewer: Person, rows: QuerySet[Student], *, name: str = "student") -> None:
    """Have a field of the form offer these students by name; more than a page of them are found by words."""
    choice = form.fields[name]
    # Ids alone: a student who is read as a row counts as one who was seen.
    few = set(rows.order_by().values_list("pk", flat=True).distinct()[: A_PAGE + 1])
    if not isinstance(choice, ModelChoiceField):
        message = "the form has no choice of a student"
        raise TypeError(message)
    if len(few) > A_PAGE:
        form.fields[name] = StudentFoundField(rows, viewer, choice)
        return
    names = student_names(viewer, among=few).listed
    choice.queryset = rows.distinct()
    choice.label_from_instance = lambda one: names.get(one.pk, one.code)  # type: ignore[method-assign,assignment]  # Django's way


@dataclass(frozen=True, slots=True)
class StudentWritten:
    """What came of the field: the id of who was chosen, and the words that were written; each may be empty."""

    pk: str = ""
    words: str = ""
    offered: StudentsOffered = field(default_factory=StudentsOffered)


class StudentFoundWidget(forms.Widget):
    """A text field, and below it who has its words, to choose from; typing asks the server where scripts run."""

    template_name = "caseload/finding/field.html"
    use_fieldset = True
    empty_label = ""

    def id_for_label(self, id_: str, index: str | None = None) -> str:
        """The text field."""
        return f"{id_}_words" if id_ else ""

    def value_from_datadict(self, data: Mapping[str, Any], files: Any, name: str) -> StudentWritten:
        """Both parts."""
        return StudentWritten(str(data.get(name) or ""), words_read(str(data.get(f"{name}_words") or "")))

    def value_omitted_from_data(self, data: Mapping[str, Any], files: Any, name: str) -> bool:
        """Neither part was sent."""
        return name not in data and f"{name}_words" not in data

    def format_value(self, value: Any) -> Any:
        """As the field prepared it."""
        return value

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        """With who is offered."""
        said = value if isinstance(value, StudentWritten) else StudentWritten()
        made = {"field": name, "said": said, "offered": said.offered, "empty_label": self.empty_label}
        return {**super().get_context(name, value, attrs), **made}


class StudentFoundField(ModelChoiceField):  # type: ignore[type-arg]  # it takes no type at run time
    """One student of thousands: by id, by code, by the whole name, or chosen among those with the words."""

    def __init__(self, rows: QuerySet[Student], viewer: Person, like: RowChoice) -> None:
        """In place of a choice, with its label and its words."""
        self.viewer, shown = viewer, StudentFoundWidget()
        shown.empty_label = "" if like.required else str(like.empty_label or "Nobody")
        super().__init__(rows, widget=shown, label=like.label, required=like.required, help_text=like.help_text)

    def prepare_value(self, value: Any) -> StudentWritten:
        """With who is offered: the one who is chosen, else those with the words."""
        said = _said(value)
        chosen = self._chosen(said)
        offered = students_offered(self.viewer, self._rows, said.words)
        if chosen is not None and (not offered.rows or chosen.pk not in {pk for pk, _ in offered.rows}):
            offered = student_offered(self.viewer, chosen)
        return StudentWritten(said.pk, said.words, offered)

    def to_python(self, value: Any) -> Student | None:
        """The student; raises `ValidationError` where nobody or several are meant."""
        said = _said(value)
        chosen = self._chosen(said)
        if chosen is None and said.words:
            chosen = student_meant(self._rows, said.words)
        if chosen is not None or not (said.words or said.pk):
            return chosen
        if not said.words:
            raise ValidationError(self.error_messages["invalid_choice"], code="invalid_choice")
        found = students_matching(self._rows, said.words).exists()
        raise ValidationError(CHOOSE if found else NOBODY, code="invalid_choice")

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Whether another student is said."""
        said = _said(data)
        return bool(said.words) or said.pk != _said(initial).pk

    @property
    def _rows(self) -> QuerySet[Student]:
        rows: QuerySet[Student] = self.queryset.all() if self.queryset is not None else Student.objects.none()
        return rows

    def _chosen(self, said: StudentWritten) -> Student | None:
        """By id; not if words for somebody else were written since."""
        pk = id_read(said.pk)
        if pk is None:
            return None
        return students_matching(self._rows.filter(pk=pk), said.words).first()


def _said(value: Any) -> StudentWritten:
    if isinstance(value, StudentWritten):
        return value
    return StudentWritten(str(value.pk if isinstance(value, Student) else value or ""))
