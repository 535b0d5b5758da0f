"""Tables of care: supports, cautions, and whom to ask."""

from caseload.care.models import Caution, Contact, Support
from schedule.imports.tables.columns import (
    CHOICE,
    CODE,
    DATE,
    DATE_HELP,
    NAMES,
    STUDENT,
    TEXT,
    YES_NO,
    Column,
    RowRole,
    Table,
    choice_words,
)

_SOURCE = (
    Column("Source", "source", TEXT, "Where it is written, such as behavior plan.", "Note of the PT"),
    Column("Written on", "written_on", DATE, f"The date of that plan or note. {DATE_HELP}", "2026-09-02"),
    Column("Holds from", "first_day", DATE, f"If it doesn't hold all along. {DATE_HELP}", ""),
    Column("Holds until", "last_day", DATE, f"If it ends. {DATE_HELP}", ""),
)

CAUTION_TAGS = Table(
    "caution-tags",
    "Caution tags",
    "One row for each of the district's own words for what a caution is about. A new district has the usual ones; "
    "those that aren't in the file stay.",
    (Column("Tag", "name", TEXT, "One word or two.", "chlorine", required=True),),
    key=("name",),
)

SUPPORTS = Table(
    "supports",
    "Supports",
    "One row for each support. The rows of one student are all of them, beside the text in the table of students.",
    (
        STUDENT,
        Column(
            "Kind",
            "kind",
            CHOICE,
            "What it is about, or whose note asks for it.",
            "communication",
            required=True,
            choices=choice_words(Support.Kind.choices),
        ),
        Column(
            "Text", "text", TEXT, "In the words of the plan.", "Shows the picture of what is next", required=True
        ),
        Column("Other student", "other_student", CODE, "For with and apart: code of the other student.", ""),
        Column("Provisional", "is_provisional", YES_NO, "Yes until the team has said; empty: no.", "no"),
        *_SOURCE,
    ),
    key=("student",),
    role=RowRole.SET,
)

CAUTIONS = Table(
    "cautions",
    "Cautions",
    "One row for each caution. The rows of one student are all of them, beside the text in the table of students.",
    (
        STUDENT,
        Column(
            "Kind",
            "kind",
            CHOICE,
            "What it comes from.",
            "medical",
            required=True,
            choices=choice_words(Caution.Kind.choices),
        ),
        Column("Text", "text", TEXT, "What to be careful about; never what is allowed.", "Seizures", required=True),
        Column("Tags", "tags", NAMES, "The district's caution tags, with ; between them.", "height; water"),
        Column(
            "Emergency steps",
            "emergency_steps",
            TEXT,
            "As the plan writes them, one step a line within the cell.",
            "Note the time. Call the nurse.",
        ),
        Column("Who decides", "decides", TEXT, "Empty: those whom the student's plan names.", "The school nurse"),
        *_SOURCE,
    ),
    key=("student",),
    role=RowRole.SET,
)

CONTACTS = Table(
    "contacts",
    "Contacts",
    "One row for each person to ask about a student, or about a class. The rows of one student, or of one class, "
    "are all of them.",
    (
        Column("Student code", "student", CODE, "Code of a student; empty for a contact of a class.", "S01"),
        Column("Building code", "building", CODE, "For a contact of a class: code of its building.", ""),
        Column("Class code", "school_class", CODE, "For a contact of a class: code of the class.", ""),
        Column(
            "Role",
            "role",
            CHOICE,
            "What the person is there for. Parents only where the district keeps them here.",
            "nurse",
            required=True,
            choices=choice_words(Contact.Role.choices),
        ),
        Column("Name", "name", TEXT, "First and last name.", "Runa Orre", required=True),
        Column("Phone", "phone", TEXT, "With the extension; or fill Email.", "555-0142 ext. 3"),
        Column("Email", "email", TEXT, "Or fill Phone.", ""),
        Column("Note", "note", TEXT, "Such as when to call.", "Before 2 PM"),
    ),
    key=("student", "building", "school_class"),
    role=RowRole.SET,
)

AIDE_HOURS = Table(
    "aide-hours",
    "Aides' hours",
    "One row for each day from which an aide has other hours. The rows of one aide are all of them, and planning "
    "goes by them for students whose supports say that an aide is needed.",
    (
        *CONTACTS.columns[:3],
        Column(
            "Name", "name", TEXT, "As in the table of contacts, where the role is aide.", "Ms. Orel", required=True
        ),
        Column(
            "From", "first_day", DATE, f"The first day of these hours. {DATE_HELP}", "2026-09-08", required=True
        ),
        Column(
            "Hours", "times", TEXT, "Days and times; empty: not there at all from then on.", "Mon-Thu 8:00 to 11:30"
        ),
    ),
    key=("student", "building", "school_class", "name"),
    role=RowRole.SET,
)
