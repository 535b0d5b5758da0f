"""The district's calendar: school years, marking periods, special days by month, words of published calendars."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.pages import Crumbs, RecordDeletePage, RecordFormPage, find_changeable, person_of
from accounts.selectors import today_of
from caseload.plans.names import NAME_BUTTON, NAME_SAID, name_warnings
from schedule.calendar.forms import CalendarEntryForm, MarkingPeriodForm, SchoolYearForm, WordRuleForm
from schedule.calendar.models import CalendarEntry, MarkingPeriod, SchoolYear, WordRule
from schedule.calendar.selectors.sources import address_rows
from schedule.calendar.services import records
from schedule.calendar.services.special_days import has_happened, special_day_delete, special_day_save

CHANGE = "district.change"


def calendar_page() -> str:
    """Address of the calendar."""
    return reverse("calendar")


@require_safe
def calendar(request: HttpRequest) -> HttpResponse:
    """One school year: the one that runs, else the next, else the last; or the one that is asked for."""
    person = person_of(request)
    years = list(SchoolYear.objects.visible_to(person))
    chosen = next((year for year in years if str(year.pk) == request.GET.get("year")), None)
    year = chosen or _year_at(years, today_of(person))
    entries = CalendarEntry.objects.visible_to(person).select_related(
        "building", "bell_schedule", "happening__said_by"
    )
    if year is not None:
        entries = entries.filter(last_date__gte=year.first_day, first_date__lte=year.last_day)
    context = {
        "years": years,
        "year": year,
        "days": days_folded(entries, today_of(person)),
        "marking_periods": year.marking_periods.all() if year is not None else (),
        "words": WordRule.objects.visible_to(person),
        "addresses": address_rows(person) if person.has_perm(CHANGE) else (),
    }
    return render(request, "schedule/calendar.html", context)


def _year_at(years: list[SchoolYear], today: dt.date) -> SchoolYear | None:
    """`years` come with the latest first."""
    coming = [year for year in years if year.last_day >= today]
    return coming[-1] if coming else next(iter(years), None)


@dataclass(frozen=True, slots=True)
class FoldedDays:
    """Special days as the page folds them: what is over, and what comes, by the month in which it begins.

    `coming` says of each month whether it stands open: the next two do.
    """

    over: list[tuple[dt.date, list[CalendarEntry]]]
    coming: list[tuple[dt.date, list[CalendarEntry], bool]]

    @property
    def count_over(self) -> int:
        """How many are over."""
        return sum(len(rows) for _, rows in self.over)


MONTHS_OPEN = 2


def days_folded(entries: Iterable[CalendarEntry], today: dt.date) -> FoldedDays:
    """The page begins with what is to come."""
    every = list(entries)
    coming = by_month(one for one in every if one.last_date >= today)
    return FoldedDays(
        by_month(one for one in every if one.last_date < today),
        [(month, rows, place < MONTHS_OPEN) for place, (month, rows) in enumerate(coming)],
    )


def by_month(entries: Iterable[CalendarEntry]) -> list[tuple[dt.date, list[CalendarEntry]]]:
    """Entries under the first of the month in which they begin."""
    ordered = sorted(entries, key=lambda entry: (entry.first_date, entry.pk))
    months = groupby(ordered, key=lambda entry: entry.first_date.replace(day=1))
    return [(month, list(rows)) for month, rows in months]


def calendar_crumbs() -> Crumbs:
    """The calendar."""
    return [("Calendar", calendar_page())]


class SchoolYearFormPage(RecordFormPage[SchoolYear]):
    """A school year."""

    model = SchoolYear
    form_class = SchoolYearForm
    permission = CHANGE
    noun = "school year"

    def save(self, row: SchoolYear, values: Mapping[str, Any]) -> SchoolYear:
        return records.school_year_save(actor=self.person, row=row, values=values)

    def back(self, row: SchoolYear) -> str:
        return calendar_page()

    def crumbs(self, row: SchoolYear) -> Crumbs:
        return calendar_crumbs()


class MarkingPeriodFormPage(RecordFormPage[MarkingPeriod]):
    """A marking period of a school year."""

    model = MarkingPeriod
    form_class = MarkingPeriodForm
    permission = CHANGE
    noun = "marking period"

    def new_row(self) -> MarkingPeriod:
        """In the year that the address names."""
        year = find_changeable(SchoolYear, self.person, self.kwargs["year"])
        return MarkingPeriod(school_year=year, district=year.district)

    def save(self, row: MarkingPeriod, values: Mapping[str, Any]) -> MarkingPeriod:
        return records.marking_period_save(actor=self.person, row=row, values=values)

    def back(self, row: MarkingPeriod) -> str:
        return calendar_page()

    def crumbs(self, row: MarkingPeriod) -> Crumbs:
        return calendar_crumbs()

    def delete_address(self, row: MarkingPeriod) -> str:
        return reverse("marking_period_delete", args=[row.pk])


class MarkingPeriodDeletePage(RecordDeletePage[MarkingPeriod]):
    """Delete a marking period."""

    model = MarkingPeriod
    permission = CHANGE
    noun = "marking period"

    def delete(self, row: MarkingPeriod) -> None:
        records.marking_period_delete(actor=self.person, row=row)

    def back(self, row: MarkingPeriod) -> str:
        return calendar_page()

    def crumbs(self, row: MarkingPeriod) -> Crumbs:
        return calendar_crumbs()


class CalendarEntryFormPage(RecordFormPage[CalendarEntry]):
    """A special day or stretch of days."""

    model = CalendarEntry
    form_class = CalendarEntryForm
    permission = CHANGE
    noun = "special day"
    intro = "For the plan of a year. A closing of days that are planned already is said under “Something happened”."
    effects_said, effects_button = NAME_SAID, NAME_BUTTON

    def effects(self, row: CalendarEntry, values: Mapping[str, Any]) -> list[str]:
        """Ask about a student's name in the title."""
        return name_warnings(self.person, values["title"])

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Save it, or go on to what it does where weeks are planned for its days already."""
        form = self.form_class(request.POST, instance=self._row(), viewer=self.person)
        if form.is_valid() and has_happened(self.person, form.instance, form.cleaned_data):
            context = {"told": form.cleaned_data, "crumbs": calendar_crumbs(), "back": calendar_page()}
            return render(request, "schedule/calendar_planned.html", context)
        return super().post(request, *args, **kwargs)

    def save(self, row: CalendarEntry, values: Mapping[str, Any]) -> CalendarEntry:
        return special_day_save(actor=self.person, row=row, values=values)

    def back(self, row: CalendarEntry) -> str:
        return calendar_page()

    def crumbs(self, row: CalendarEntry) -> Crumbs:
        return calendar_crumbs()

    def delete_address(self, row: CalendarEntry) -> str:
        return reverse("calendar_entry_delete", args=[row.pk])


class CalendarEntryDeletePage(RecordDeletePage[CalendarEntry]):
    """The day is a usual one again."""

    model = CalendarEntry
    permission = CHANGE
    noun = "special day"

    def delete(self, row: CalendarEntry) -> None:
        special_day_delete(actor=self.person, row=row)

    def back(self, row: CalendarEntry) -> str:
        return calendar_page()

    def crumbs(self, row: CalendarEntry) -> Crumbs:
        return calendar_crumbs()


class WordRuleFormPage(RecordFormPage[WordRule]):
    """Words of a published calendar and what they stand for."""

    model = WordRule
    form_class = WordRuleForm
    permission = CHANGE
    noun = "word rule"
    intro = "When a published calendar is imported, titles that contain these words become days of this kind."

    def save(self, row: WordRule, values: Mapping[str, Any]) -> WordRule:
        return records.word_rule_save(actor=self.person, row=row, values=values)

    def back(self, row: WordRule) -> str:
        return calendar_page()

    def crumbs(self, row: WordRule) -> Crumbs:
        return calendar_crumbs()

    def delete_address(self, row: WordRule) -> str:
        return reverse("word_rule_delete", args=[row.pk])


class WordRuleDeletePage(RecordDeletePage[WordRule]):
    """Forget words."""

    model = WordRule
    permission = CHANGE
    noun = "word rule"

    def delete(self, row: WordRule) -> None:
        records.word_rule_delete(actor=self.person, row=row)

    def back(self, row: WordRule) -> str:
        return calendar_page()

    def crumbs(self, row: WordRule) -> Crumbs:
        return calendar_crumbs()
