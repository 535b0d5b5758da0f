"""The base of every form that edits a row: it reads what was typed, a service decides whether it can be saved."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.forms.models import ModelChoiceField

from accounts.fields import DateField, form_field_of
from accounts.models import Person, ScopedQuerySet, held_from
from accounts.selectors import today_of

type RowChoice = ModelChoiceField[Any]


def pickers_set(form: forms.BaseForm) -> None:
    """Give dates and times the browser's own pickers, and long texts three lines."""
    for field in form.fields.values():
        widget: forms.Widget | None = None
        if isinstance(field, DateField):
            widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
        elif isinstance(field, forms.TimeField):
            widget = forms.TimeInput(format="%H:%M", attrs={"type": "time"})
        if widget is not None:
            widget.is_required = field.required
            field.widget = widget
        if isinstance(field.widget, forms.Textarea):
            field.widget.attrs["rows"] = 3
        if isinstance(field.widget, forms.TextInput | forms.Textarea):
            # These are data about others: the browser must not offer the user's own name and address.
            field.widget.attrs.setdefault("autocomplete", "off")
        is_choice = isinstance(field, forms.ChoiceField | ModelChoiceField)
        # The label is right above it, and before it in the error summary.
        field.error_messages["required"] = "Choose one." if is_choice else "Fill this in."


def choice_of_names(form: forms.BaseForm, name: str, names: Iterable[str], empty: str) -> None:
    """Turn a text field into a choice of `names`; one that was saved before stays choosable."""
    kept = str(form.get_initial_for_field(form.fields[name], name) or "")
    known = list(names)
    same = next((one for one in known if one.casefold() == kept.strip().casefold()), None)
    if same is not None:
        form.initial[name] = same
    elif kept:
        known.append(kept)
    old = form.fields[name]
    form.fields[name] = forms.ChoiceField(
        label=old.label,
        required=False,
        choices=[("", empty), *((one, one) for one in known)],
        help_text=old.help_text,
    )


class RecordForm(forms.ModelForm):  # type: ignore[type-arg]  # Django's ModelForm takes no type at run time
    """A `ModelForm` that leaves the instance alone: `cleaned_data` goes to a service.

    Every choice of rows is cut down to what `viewer` may change; people are the district's teachers.
    """

    def __init_subclass__(cls, **options: Any) -> None:
        """Take dates and rows by the house's own fields, whatever a form's `Meta` says of the rest."""
        super().__init_subclass__(**options)
        if "Meta" in cls.__dict__:
            cls.Meta.formfield_callback = form_field_of  # type: ignore[attr-defined]  # Django reads it after this

    needed_sometimes: tuple[str, ...] = ()
    """Fields that some choices need and others don't: they are not marked as optional."""

    def __init__(self, *args: Any, viewer: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.viewer = viewer
        for name, field in self.fields.items():
            if isinstance(field, ModelChoiceField):
                self._narrow(name, field)
        pickers_set(self)
        self.prepare()

    def _narrow(self, name: str, field: RowChoice) -> None:
        rows = field.queryset
        if rows is None:
            return
        if rows.model is Person:
            # Who has left stays where the row names them: what is past isn't changed by another field's change.
            kept = getattr(self.instance, f"{name}_id", None)
            teaches = Q(is_active=True) & held_from(today_of(self.viewer), Person.Role.TEACHER)
            field.queryset = Person.objects.filter(teaches | Q(pk=kept), district=self.viewer.district)
        elif isinstance(rows, ScopedQuerySet):
            field.queryset = rows.changeable_by(self.viewer)

    def prepare(self) -> None:
        """Whatever a form changes about its fields once they are there."""

    def _post_clean(self) -> None:
        """Validate nothing here: the service holds the whole row, and its words come back by `refuse`."""

    def refuse(self, error: ValidationError) -> None:
        """Put what a service found wrong at the fields; what has no field here stands at the top."""
        errors = error.error_dict if hasattr(error, "error_dict") else {"": error.error_list}
        for name, texts in errors.items():
            self.add_error(name if name in self.fields else None, list(texts))
