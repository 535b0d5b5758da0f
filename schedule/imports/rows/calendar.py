"""Rows of the calendar to records: school years, marking periods, special days, words of published calendars."""

from typing import Any

from schedule.calendar.models import BellSchedule, CalendarEntry, MarkingPeriod, SchoolYear, WordRule
from schedule.calendar.services.records import marking_period_save, school_year_save, word_rule_save
from schedule.calendar.services.special_days import special_day_save
from schedule.imports.rows.context import ParsedRow, TableRun, model_values
from schedule.imports.rows.schools import building_of, looked_up
from travel.places.models import Building


def write_school_years(run: TableRun, rows: list[ParsedRow]) -> None:
    """School years by name."""
    for row in rows:
        found = SchoolYear.objects.filter(district=run.district, name__iexact=row.values["name"]).first()
        values = model_values(SchoolYear, row, ("name", "first_day", "last_day", "extended"))
        run.put(row, school_year_save, found or SchoolYear(district=run.district), values)


def write_marking_periods(run: TableRun, rows: list[ParsedRow]) -> None:
    """Marking periods by year and name."""
    for row in rows:
        year = _year_of(run, row)
        if year is None:
            continue
        found = year.marking_periods.filter(name__iexact=row.values["name"]).first()
        fresh = MarkingPeriod(district=run.district, school_year=year)
        values = model_values(MarkingPeriod, row, ("name", "first_day", "last_day"))
        run.put(row, marking_period_save, found or fresh, values)


def _year_of(run: TableRun, row: ParsedRow) -> SchoolYear | None:
    """The school year that a row names; None with the problem noted."""
    name = row.values["school_year"]
    years = list(SchoolYear.objects.filter(district=run.district))
    found = next((year for year in years if year.name.casefold() == name.casefold()), None)
    if found is None:
        known = ", ".join(year.name for year in years) or "none yet: import or add the school year first"
        run.fault(row, "school_year", f"There is no school year “{name}”.", f"School years: {known}.")
    return found


def write_special_days(run: TableRun, rows: list[ParsedRow]) -> None:
    """Special days by first day and building; those that were said to have happened are left alone."""
    for row in rows:
        values = _day_values(run, row)
        if values is None:
            continue
        found = CalendarEntry.objects.filter(
            district=run.district,
            building=values["building"],
            first_date=values["first_date"],
            happening=None,
        ).first()
        run.put(row, special_day_save, found or CalendarEntry(district=run.district), values)


def _day_values(run: TableRun, row: ParsedRow) -> dict[str, Any] | None:
    """A special day as the service takes it; None with the problem noted."""
    building = building_of(run, row) if row.get("building") else None
    schedule = _bells_of(run, row, building)
    lost = (row.get("building") and building is None) or (row.get("bell_schedule") and schedule is None)
    if lost:
        return None
    values = model_values(CalendarEntry, row, ("first_date", "kind", "title", "opens_at", "closes_at"))
    last = row.get("last_date") or values["first_date"]
    return {**values, "last_date": last, "building": building, "bell_schedule": schedule}


def _bells_of(run: TableRun, row: ParsedRow, building: Building | None) -> BellSchedule | None:
    """The bells that a row names; None where it names none, or with the problem noted."""
    name = row.get("bell_schedule")
    if not name:
        return None
    if building is not None:
        return looked_up(run, row, "bell_schedule", run.lookups.schedule, building, name)
    if not row.get("building"):
        message = "A bell schedule belongs to one building, and this row names none."
        run.fault(row, "bell_schedule", message, "Fill Building code as well, or leave Schedule name empty.")
    return None


def write_calendar_words(run: TableRun, rows: list[ParsedRow]) -> None:
    """Words of published calendars by the words, without regard to capitals."""
    saved = {one.words.casefold(): one for one in WordRule.objects.filter(district=run.district)}
    for row in rows:
        found = saved.get(row.values["words"].casefold())
        values = model_values(WordRule, row, ("kind", "position"))
        if found is None:
            values["words"] = row.values["words"]
        run.put(row, word_rule_save, found or WordRule(district=run.district), values)
