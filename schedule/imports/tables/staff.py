"""Tables of those who sign in: people with their roles."""

from accounts.models import Person
from schedule.imports.tables.columns import (
    CHOICE,
    DATE,
    DATE_HELP,
    NAMES,
    PERSON,
    TEXT,
    YES_NO,
    Column,
    Table,
    choice_words,
)

PEOPLE_CHANGE = "people.change"

PEOPLE = Table(
    "people",
    "People",
    "One row for each role of a person who signs in. Only a coordinator brings it. It has no column for passwords: "
    "whoever is new gets a link or one afterwards. A role that is saved and isn't in the file stays as it is.",
    (
        Column(
            "Sign-in name",
            "username",
            PERSON,
            "Letters, digits and @ . + - _ only. Empty: somebody who is known by the mail address.",
            "vtarn",
        ),
        Column("First name", "first_name", TEXT, "Needed for somebody new; empty: it stays.", "Vera"),
        Column("Last name", "last_name", TEXT, "Needed for somebody new; empty: it stays.", "Tarn"),
        Column("Mail address", "email", TEXT, "To which a link for choosing a password goes.", "vtarn@example.org"),
        Column(
            "Role",
            "role",
            CHOICE,
            "What the person does in the district. Empty: the roles stay; somebody new is an itinerant teacher.",
            "teacher",
            choices=choice_words(Person.Role.choices),
        ),
        Column("Role from", "role_first_day", DATE, f"Empty: from the beginning. {DATE_HELP}", ""),
        Column("Role until", "role_last_day", DATE, f"Empty: it doesn't end. {DATE_HELP}", ""),
        Column(
            "Buildings",
            "buildings",
            NAMES,
            "Of a school office: codes or names of its buildings, with ; between them.",
            "",
        ),
        Column("Last day of work", "last_day", DATE, f"Of somebody who leaves. {DATE_HELP}", ""),
        Column("Can sign in", "is_active", YES_NO, "No for somebody deactivated; empty: as it is.", "yes"),
    ),
    key=("username", "role"),
    permission=PEOPLE_CHANGE,
)
