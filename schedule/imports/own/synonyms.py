"""What districts call the columns of ours. Common practice, no source: every proposal is shown before it counts."""

from collections.abc import Mapping

SHORT: Mapping[str, str] = {
    "bldg": "building", "bld": "building", "sch": "school", "stu": "student", "stud": "student", "tchr": "teacher",
    "fname": "first name", "lname": "last name", "gr": "grade", "grd": "grade", "lvl": "level", "num": "number",
    "no": "number", "nbr": "number", "freq": "frequency", "mins": "minutes", "min": "minutes", "dt": "date",
    "beg": "begin", "per": "period", "rm": "room", "hr": "homeroom", "lat": "latitude", "lon": "longitude",
    "lng": "longitude", "tel": "phone", "addr": "address", "svc": "service", "prov": "provider", "eff": "effective",
}  # fmt: skip
"""Words that are cut short in headers, in full."""

NAMES: Mapping[str, tuple[str, ...]] = {
    "building": ("building", "building name", "school", "school name", "school code", "site", "campus", "location"),
    "username": ("sign in name", "login", "login name", "user name", "user", "user id", "account"),
    "email": ("mail", "mail address", "email", "e mail", "email address", "work email"),
    "role": ("role", "position", "job title", "job"),
    "student": ("student", "student id", "student number", "id", "local id", "sid"),
    "first_name": ("first", "first name", "given name", "student first name", "forename"),
    "last_name": ("last", "last name", "surname", "family name", "student last name"),
    "whole_name": ("student name", "name", "full name", "student", "students", "last first", "name last first"),
    "grade": ("grade", "grade level", "level", "current grade"),
    "home_class": ("homeroom", "room", "home room", "class", "section"),
    "caseload_teacher": ("teacher", "provider", "service provider", "caseload", "assigned to"),
    "teacher": ("teacher", "provider", "service provider", "staff"),
    "plan_start": (
        "plan begin", "plan begins", "iep start", "iep start date", "iep begin date", "begin date", "start date",
        "start",
    ),
    "plan_end": (
        "plan ends", "iep end", "iep end date", "iep expiration date", "end date", "expires", "expiration date",
        "end",
    ),
    "annual_review": (
        "annual review", "annual review date", "annual review due", "review date", "review due", "next review",
        "annual meeting",
    ),
    "statement": ("frequency", "service frequency", "minutes", "service", "service minutes", "amount"),
    "setting": ("setting", "service setting", "service location", "group size", "how delivered", "placement"),
    "service_type": ("type", "service type"),
    "days": ("days", "day", "meets", "meeting days", "weekday", "weekdays"),
    "period": ("period", "block", "bell period", "class period"),
    "schedule": ("bell", "bells", "bell schedule", "schedule", "day type"),
    "start": ("start", "start time", "begin", "begins", "begin time", "from", "time in"),
    "end": ("end", "end time", "ends", "to", "until", "time out"),
    "space": ("space", "gym", "room", "facility"),
    "name": ("name", "title", "description"),
    "phone": ("phone", "telephone", "phone number"),
    "address": ("address", "street", "street address"),
    "latitude": ("latitude", "y"),
    "longitude": ("longitude", "x"),
    "first_day": ("entry date", "enrollment date", "first day", "enrolled"),
    "last_day": ("exit date", "withdrawal date", "last day", "withdrawn"),
}  # fmt: skip
"""By the name of a column of ours, in full and small letters."""

CODES: Mapping[str, tuple[str, ...]] = {
    "buildings": ("building", "school code", "building code", "site code", "school number", "id", "code"),
    "students": ("student id", "student number", "id", "local id", "sid", "student"),
    "classes": ("class", "room", "section", "homeroom", "course", "code"),
}
"""What a table's own column “code” is called, by the table."""

SUBJECT: Mapping[str, tuple[str, ...]] = {
    "students": ("student", "students", "child", "current"),
    "classes": ("class", "course", "current"),
    "plans": ("student", "plan", "iep", "current"),
}
"""Words that say only whose a column is, by the table: “Student last” is a last name."""
