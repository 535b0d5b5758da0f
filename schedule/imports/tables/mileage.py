"""Tables of mileage: the trips on which a teacher decided, and vouchers as they were submitted."""

from schedule.imports.tables.columns import (
    CHOICE,
    DATE,
    DATE_HELP,
    DECIMAL,
    INTEGER,
    PERSON,
    PLACE,
    TEXT,
    YES_NO,
    Column,
    Table,
    choice_words,
)
from travel.mileage.chart import MilesSource
from travel.mileage.models import Trip, Voucher
from travel.mileage.rules import Rounding

_SOURCES = choice_words((one.value, one.value) for one in MilesSource if one.value)
_ROUNDINGS = choice_words((one.value, one.value) for one in Rounding)
_STATUS = choice_words(Voucher.Status.choices)
_DRIVER = "Sign-in name; of somebody who came by a link, the name; empty: you."
_UTC = "Date and time in UTC, as an export writes it."

TRIPS = Table(
    "trips",
    "Trips",
    "One row for each drive on which its teacher has decided: driven as planned or corrected, added, or not. "
    "A teacher brings the own ones; a coordinator adds what is missing in months that nobody has claimed, and the "
    "teacher still submits. A row of a month whose voucher is submitted changes nothing.",
    (
        Column("Teacher", "teacher", PERSON, _DRIVER, ""),
        Column("Day driven", "date", DATE, DATE_HELP, "2026-10-05", required=True),
        Column("From building", "origin", PLACE, "Building code or name; empty: home.", "NORTH"),
        Column("To building", "destination", PLACE, "Building code or name; empty: home.", "SOUTH"),
        Column("Which of several", "number", INTEGER, "Of drives between the same two on a day; empty: 1.", ""),
        Column("Driven", "status", CHOICE, "Empty: driven.", "driven",
               choices=(("driven", Trip.Status.CONFIRMED.value), ("not driven", Trip.Status.NOT_DRIVEN.value))),
        Column("Planned", "from_week", YES_NO, "Whether a week or a logged drive called for it. Only a "
               "coordinator's row says so; a teacher's weeks say it by themselves.", ""),
        Column("There and back", "round_trip", YES_NO, "Empty: no. Miles are then those of both ways.", ""),
        Column("Direct miles", "direct_miles", DECIMAL, "Only where the chart doesn't know the way.", ""),
        Column("Direct miles from", "direct_source", CHOICE, "Where they come from. Only a coordinator's row says "
               "so.", "", choices=_SOURCES),
        Column("Driven miles", "driven_miles", DECIMAL, "If you read them; or fill in both readings.", "8.4"),
        Column("Odometer before", "odometer_before", DECIMAL, "Before you left.", ""),
        Column("Odometer after", "odometer_after", DECIMAL, "After you arrived.", ""),
        Column("Parking", "parking", DECIMAL, "In dollars; empty: 0.", ""),
        Column("Tolls", "tolls", DECIMAL, "In dollars; empty: 0.", ""),
        Column("Purpose", "purpose", TEXT, "Empty: what the district says of all trips. No student's name.", ""),
        Column("Note", "note", TEXT, "For the finance office. No student's name.", ""),
    ),
    key=("teacher", "date", "origin", "destination", "number"),
    permission="mileage.view",
)  # fmt: skip

VOUCHERS = Table(
    "vouchers",
    "Vouchers",
    "One row for each line of a voucher as it was submitted, also of one that was returned, approved or paid. Only "
    "a coordinator brings it, and only vouchers that aren't there: one that is there stays as it is. An open "
    "supplement is a row without a line.",
    (
        Column("Teacher", "teacher", PERSON, _DRIVER, "ada", required=True),
        Column("Month", "month", DATE, f"Its first day. {DATE_HELP}", "2026-10-01", required=True),
        Column("Supplement", "number", INTEGER, "Empty or 0: the month's voucher; 1, 2, …: its supplements.", ""),
        Column("Edition", "edition", INTEGER, "Empty or 1; one more each time that it was submitted again.", ""),
        Column("State", "status", CHOICE, "How far it has come.", "paid", required=True, choices=_STATUS),
        Column("Prices again", "reprices", YES_NO, "Of a supplement that prices the whole month again.", ""),
        Column("Rules", "rules", TEXT, "The district's rules then, in words.", ""),
        Column("Submitted by", "submitted_by", PERSON, _DRIVER, "ada"),
        Column("Submitted at", "submitted_at", TEXT, _UTC, "2026-11-02T14:05:00+00:00"),
        Column("What became of it", "steps", TEXT, "As an export writes it: a line for each step.", ""),
        Column("Answers", "answers", TEXT, "To what was asked of it, as an export writes them.", ""),
        Column("Line", "position", INTEGER, "Its place in the voucher: 1, 2, 3.", "1"),
        Column("Trip", "key", TEXT, "Which trip it is about: day, both buildings' codes, and which of several.",
               "2026-10-05 NORTH SOUTH 1"),
        Column("Takes back", "takes_back", YES_NO, "Whether it takes an earlier line back.", ""),
        Column("Day driven", "date", DATE, DATE_HELP, "2026-10-05"),
        Column("From", "origin", TEXT, "As the voucher says it.", "North School"),
        Column("To", "destination", TEXT, "As the voucher says it.", "South School"),
        Column("Purpose", "purpose", TEXT, "As the voucher says it.", ""),
        Column("Account code", "account_code", TEXT, "As the voucher says it.", ""),
        Column("Direct miles", "direct_miles", DECIMAL, "By the chart of that day.", "8.4"),
        Column("Direct miles from", "direct_source", CHOICE, "Where they come from.", "", choices=_SOURCES),
        Column("Driven miles", "driven_miles", DECIMAL, "As they were read.", ""),
        Column("Odometer before", "odometer_before", DECIMAL, "As it was read.", ""),
        Column("Odometer after", "odometer_after", DECIMAL, "As it was read.", ""),
        Column("Miles from", "source", CHOICE, "Where the claimed miles come from.", "", choices=_SOURCES),
        Column("Percent off the chart", "off_chart_percent", INTEGER, "More or less driven than the chart.", ""),
        Column("Off the chart", "off_chart", YES_NO, "By more than the district's share.", ""),
        Column("Miles", "miles", DECIMAL, "Claimed.", "8.4"),
        Column("Rate", "rate", DECIMAL, "Dollars a mile.", "0.725"),
        Column("Rate from", "rate_source", TEXT, "As the voucher says it.", ""),
        Column("Amount", "amount", DECIMAL, "Dollars for the miles.", "6.09"),
        Column("Total rounded", "total_rounding", CHOICE, "How, where the total was and not the line.", "",
               choices=_ROUNDINGS),
        Column("Parking", "parking", DECIMAL, "Dollars.", ""),
        Column("Tolls", "tolls", DECIMAL, "Dollars; empty: in the parking.", ""),
        Column("Why", "rule", TEXT, "Why so many miles are paid.", ""),
        Column("Note", "note", TEXT, "As the voucher says it.", ""),
    ),
    key=("teacher", "month", "number", "edition", "position"),
    permission="mileage.approve",
)  # fmt: skip
