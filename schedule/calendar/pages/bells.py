"""A bell schedule and all its periods on one page, saved as one."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.forms import formset_factory
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from accounts.pages import Crumbs, RecordFormPage, find_changeable
from schedule.calendar.forms import BellScheduleForm, PeriodForm, Periods
from schedule.calendar.models import BellSchedule
from schedule.calendar.services import records
from travel.places.models import Building
from travel.places.pages.buildings import building_crumbs, building_page

MORE_ROWS = 3
ROWS_AT_FIRST = 9
MOST_PERIODS = 40


def _periods(data: Any = None, *, initial: list[dict[str, Any]] | None = None, extra: int = MORE_ROWS) -> Periods:
    factory = formset_factory(PeriodForm, extra=extra, max_num=MOST_PERIODS, absolute_max=MOST_PERIODS)
    return factory(data, initial=initial, prefix="periods")


class BellScheduleFormPage(RecordFormPage[BellSchedule]):
    """New bells of a building, or a change to them."""

    model = BellSchedule
    form_class = BellScheduleForm
    permission = "district.change"
    noun = "bell schedule"
    intro = "A period that gets another name is renamed wherever this building's bells and times name it."
    template_name = "schedule/bell_schedule_form.html"

    def new_row(self) -> BellSchedule:
        """In the building that the address names."""
        return BellSchedule(building=find_changeable(Building, self.person, self.kwargs["building"]))

    def back(self, row: BellSchedule) -> str:
        return building_page(row.building)

    def crumbs(self, row: BellSchedule) -> Crumbs:
        return building_crumbs(row.building)

    def delete_address(self, row: BellSchedule) -> str:
        return reverse("bell_schedule_delete", args=[row.pk])

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """The saved periods and some empty rows."""
        row = self._row()
        saved = (
            [
                {"name": one.name, "start": one.start, "end": one.end, "kind": one.kind, "grades": one.grades}
                for one in row.periods.all()
            ]
            if row.pk
            else []
        )
        formset = _periods(initial=saved, extra=MORE_ROWS if saved else ROWS_AT_FIRST)
        return self.show(row, self.form_class(instance=row, viewer=self.person), formset=formset)

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Save everything, add empty rows, or show what is wrong at its row."""
        row = self._row()
        form = self.form_class(request.POST, instance=row, viewer=self.person)
        formset = _periods(request.POST)
        if "more_rows" in request.POST:
            return self._more_rows(row, form, formset)
        if form.is_valid() and formset.is_valid() and self._saved(row, form, formset):
            messages.success(request, self.saved_message(row))
            return redirect(self.back(row))
        return self.show(self._row(), form, status=422, formset=formset)

    def _more_rows(self, row: BellSchedule, form: Any, formset: Periods) -> HttpResponse:
        typed = [one.typed() for one in formset.forms if not one.is_empty]
        fresh = self.form_class(
            instance=row, viewer=self.person, initial={name: form[name].value() for name in form.fields}
        )
        return self.show(row, fresh, formset=_periods(initial=typed, extra=MORE_ROWS * 2))

    def _saved(self, row: BellSchedule, form: Any, formset: Periods) -> bool:
        rows = [one for one in formset.forms if not one.is_empty]
        values: Mapping[str, Any] = {**form.cleaned_data, "periods": [_values(one) for one in rows]}
        try:
            records.bell_schedule_save(actor=self.person, row=row, values=values)
        except ValidationError as error:
            _refuse(form, rows, error)
            return False
        return True


def _values(form: PeriodForm) -> dict[str, Any]:
    """A row without a kind is instruction."""
    return {name: value for name, value in form.cleaned_data.items() if name != "kind" or value}


def _refuse(form: Any, rows: list[PeriodForm], error: ValidationError) -> None:
    """Errors under ``periods.N.field`` go to the row, the others to the form above."""
    above: dict[str, list[ValidationError]] = {}
    for key, errors in error.error_dict.items():
        head, _, rest = key.partition(".")
        if head != "periods" or not rest:
            above[key] = errors
            continue
        place, _, field = rest.partition(".")
        for text in ValidationError(errors).messages:
            rows[int(place)].refuse(field, text)
    if above:
        form.refuse(ValidationError(above))
