"""A bell schedule and all its periods on one page, saved as one."""

from collections.abc import Callable, Mapping
from copy import copy
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.forms import formset_factory
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from accounts.errors import ApplicationError
from accounts.fields import id_read
from accounts.guards import ends_foreseen
from accounts.pages import (
    Crumbs,
    RecordDeletePage,
    RecordFormPage,
    do_and_say,
    effects_digest,
    find_changeable,
    person_of,
)
from accounts.selectors import today_of
from schedule.calendar.forms import BellScheduleForm, PeriodForm, Periods
from schedule.calendar.models import BellSchedule
from schedule.calendar.selectors.bells import BellSet, set_shown, sets_of, usual_first_day
from schedule.calendar.services import bells
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
    intro = (
        "Other periods ring from the day that you give on, and what rang before stays. A period that gets another "
        "name is renamed wherever this building's bells and times name it."
    )
    template_name = "schedule/bell_schedule_form.html"
    effects_said = "Look at what this changes first. Nothing is saved yet."
    effects_button = "Save it all the same"

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
        """The periods that ring today, or from the day that the address names, and some empty rows."""
        row = self._row()
        asked, today = self._asked(row), today_of(self.person)
        shown = asked or set_shown(row, today)
        rung = shown.periods if shown else ()
        saved = [{name: getattr(one, name) for name in bells.PERIOD_FIELDS} for one in rung]
        first = asked.first if asked else usual_first_day(row, today)
        formset = _periods(initial=saved, extra=MORE_ROWS if saved else ROWS_AT_FIRST)
        form = self.form_class(instance=row, viewer=self.person, initial={"first_day": first})
        return self.show(row, form, formset=formset)

    def _asked(self, row: BellSchedule) -> BellSet | None:
        """The set that the address names by its first day, to be put right."""
        return next((one for one in sets_of(row) if one.key == self.request.GET.get("from")), None)

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Show what it changes, save everything, add empty rows, or show what is wrong at its row."""
        row = self._row()
        form = self.form_class(request.POST, instance=row, viewer=self.person)
        formset = _periods(request.POST)
        if "more_rows" in request.POST:
            return self._more_rows(row, form, formset)
        if form.is_valid() and formset.is_valid():
            told = self._told(row, form, formset)
            if told:
                return self.show(
                    self._row(), form, formset=formset, effects=told, effects_seen=effects_digest(told)
                )
            if not form.errors and all(one.is_valid() for one in formset.forms) and self._saved(row, form, formset):
                messages.success(request, self.saved_message(row))
                return redirect(self.back(row))
        return self.show(self._row(), form, status=422, formset=formset)

    def _told(self, row: BellSchedule, form: Any, formset: Periods) -> list[str]:
        """What saving would change, unless the person has just seen that; problems stand in the form."""
        me = self.person
        told: list[str] = []

        def act(values: Mapping[str, Any]) -> None:
            tried = copy(row)
            told[:] = (
                ends_foreseen(me, row, lambda: bells.bell_schedule_save(actor=me, row=tried, values=values))
                if row.pk
                else []
            )

        if not self._tried(form, formset, act):
            return []
        return told if told and self.request.POST.get("effects_seen") != effects_digest(told) else []

    def _more_rows(self, row: BellSchedule, form: Any, formset: Periods) -> HttpResponse:
        typed = [one.typed() for one in formset.forms if not one.is_empty]
        fresh = self.form_class(
            instance=row, viewer=self.person, initial={name: form[name].value() for name in form.fields}
        )
        return self.show(row, fresh, formset=_periods(initial=typed, extra=MORE_ROWS * 2))

    def _saved(self, row: BellSchedule, form: Any, formset: Periods) -> bool:
        save = bells.bell_schedule_save
        return self._tried(form, formset, lambda values: save(actor=self.person, row=row, values=values))

    def _tried(self, form: Any, formset: Periods, act: Callable[[Mapping[str, Any]], object]) -> bool:
        """Whether it went through; problems stand in the form and at the rows."""
        rows = [one for one in formset.forms if not one.is_empty]
        try:
            act({**form.cleaned_data, "periods": [_values(one) for one in rows]})
        except ValidationError as error:
            _refuse(form, rows, error)
        except ApplicationError as error:
            if error.status in {403, 404}:
                raise
            form.add_error("first_day" if error.code == "month_closed" else None, error.message)
        else:
            return True
        return False


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


class BellScheduleDeletePage(RecordDeletePage[BellSchedule]):
    """Delete bells."""

    model = BellSchedule
    permission = "district.change"
    noun = "bell schedule"

    def delete(self, row: BellSchedule) -> None:
        bells.bell_schedule_delete(actor=self.person, row=row)

    def back(self, row: BellSchedule) -> str:
        return building_page(row.building)

    def crumbs(self, row: BellSchedule) -> Crumbs:
        return building_crumbs(row.building)


class BellSetRemovePage(BellScheduleDeletePage):
    """Take away what rings from a day on, as if it had never been given: what rang before rings on."""

    effects_said = "Look at what this changes first:"

    def _asked(self, row: BellSchedule) -> BellSet:
        """The set that the address, or what was sent, names by its first day. Raises `Http404`."""
        key = self.request.POST.get("from") or self.request.GET.get("from")
        found = next((one for one in sets_of(row) if one.key == key), None)
        if found is None:
            raise Http404
        return found

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Ask, with what it changes."""
        row = self.find_row()
        asked = self._asked(row)
        effects: list[str] = []

        def try_it() -> None:
            effects.extend(ends_foreseen(self.person, row, lambda: self._remove(copy(row))))

        do_and_say(request, try_it)
        context = {
            "title": "Take these periods away",
            "label": f"{row}, {asked.words}",
            "row": row,
            "can_be_undone": True,
            "effects": effects,
            "effects_said": self.effects_said,
            "crumbs": self.crumbs(row),
            "back": self.back(row),
        }
        return render(request, self.template_name, context)

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Take it away, or say why not."""
        row = self.find_row()
        do_and_say(request, lambda: self._remove(row), "These periods are taken away: what rang before rings on.")
        return redirect(self.back(row))

    def _remove(self, row: BellSchedule) -> None:
        bells.bell_set_remove(actor=self.person, row=row, first_day=self._asked(row).first)


@require_POST
@permission_required("district.change", raise_exception=True)
def bells_taking_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Undo what was done last to the periods of a bell schedule."""
    person = person_of(request)
    row, seen = find_changeable(BellSchedule, person, pk), id_read(request.POST.get("seen", ""))
    do_and_say(request, lambda: bells.bells_take_back(actor=person, row=row, seen=seen), "Taken back.")
    return redirect(building_page(row.building))
