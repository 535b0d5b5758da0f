"""Tables of what happens in class hours: activities, equipment, routines, stations."""

from schedule.class_hour.models import RoutinePart
from schedule.imports.tables.columns import (
    CHOICE,
    CODE,
    INTEGER,
    NAMES,
    TEACHER,
    TEXT,
    YES_NO,
    Column,
    RowRole,
    Table,
    choice_words,
)

ACTIVITIES = Table(
    "activities",
    "Activities",
    "One row for each activity, shared by the district's routines and stations.",
    (
        Column("Activity", "name", TEXT, "What it is called.", "Shadow walk", required=True),
        Column(
            "What it is", "about", TEXT, "How it goes, in a few sentences.", "Partners copy each other's steps."
        ),
        Column("Loud", "is_loud", YES_NO, "Whether it gets loud; empty: no.", "no"),
        Column(
            "Caution tags",
            "caution_tags",
            NAMES,
            "The district's caution tags that it has, with ; between them.",
            "exertion; contact",
        ),
    ),
    key=("name",),
)

EQUIPMENT = Table(
    "equipment",
    "Equipment",
    "One row for each kind of equipment in each place: a building where it stays, or a car in which it rides.",
    (
        Column("Equipment", "name", TEXT, "What it is called.", "Poly spots", required=True),
        Column("Building code", "building", CODE, "Where it stays; empty: it rides in the teacher's car.", "NORTH"),
        TEACHER,
        Column("Place", "place", TEXT, "Such as the closet behind the stage.", "Closet by the gym"),
        Column("Count", "count", INTEGER, "All that belong there; empty: 1.", "12"),
        Column("Worn", "worn", INTEGER, "Of these, still in use; empty: 0.", "2"),
        Column("Broken", "broken", INTEGER, "Of these; empty: 0.", "0"),
        Column("Lent", "lent", INTEGER, "Of these; empty: 0.", "0"),
        Column("Lent to", "lent_to", TEXT, "Who has them.", ""),
    ),
    key=("name", "building", "teacher"),
)

_SHORT = (
    ("shrinks", str(RoutinePart.Short.SHRINKS.value)),
    ("may fall out", str(RoutinePart.Short.MAY_FALL_OUT.value)),
    ("never falls out", str(RoutinePart.Short.NEVER_FALLS_OUT.value)),
)

ROUTINES = Table(
    "routines",
    "Routines",
    "One row for each part, in order. The rows of one routine are all its parts; what is about the routine "
    "itself is the same in all of them.",
    (
        Column("Routine", "name", TEXT, "What it is called.", "Room 4 lesson", required=True),
        TEACHER,
        Column("Variant", "variant", TEXT, "What is different in it; empty: the routine itself.", ""),
        Column("Building code", "building", CODE, "For the routine of a class: code of its building.", "NORTH"),
        Column("Class code", "school_class", CODE, "Code of the class that has it; empty: none.", "RM4"),
        Column(
            "Group",
            "students",
            NAMES,
            "Of a group or one student instead of a class: the students' codes, with ; between them.",
            "",
        ),
        Column("About", "about", TEXT, "What it is for.", ""),
        Column("Attention minutes", "attention_minutes", INTEGER, "How long the class stays with one thing.", "8"),
        Column("On the shelf", "on_shelf", YES_NO, "Whether the district's teachers may copy it; empty: no.", "no"),
        Column(
            "Part",
            "kind",
            CHOICE,
            "What sort of part it is.",
            "warm up",
            required=True,
            choices=choice_words(RoutinePart.Kind.choices),
        ),
        Column("Part name", "title", TEXT, "Your own name for it; needed for other.", ""),
        Column("Activity", "activity", TEXT, "Name of an activity in the table of activities.", "Shadow walk"),
        Column("What happens", "what", TEXT, "In a sentence or two.", "Twice around the lines"),
        Column("Cue", "cue", TEXT, "By what the class knows that it is over.", "The drum stops"),
        Column("Minutes", "minutes", INTEGER, "On a usual day.", "5", required=True),
        Column("Least minutes", "least_minutes", INTEGER, "Shorter it isn't worth doing.", "3", required=True),
        Column("If short", "when_short", CHOICE, "Where time is short; empty: shrinks.", "shrinks", choices=_SHORT),
        Column("Space", "where", TEXT, "Such as half court.", ""),
        Column("Who leads", "leads", TEXT, "A name or a role.", "Classroom teacher"),
        Column("Notes for aides", "aide_notes", TEXT, "What they are to know.", ""),
        Column("Set up", "set_up", TEXT, "What is to be set up before.", "Spots in two rows"),
        Column("Who sets up", "set_up_by", TEXT, "A name or a role.", "Aide"),
        Column("Known", "is_known", YES_NO, "Whether the class knows it already; empty: no.", "yes"),
        Column("Far apart", "is_far_apart", YES_NO, "Whether its places are far apart; empty: no.", "no"),
        Column("Equipment", "needs", TEXT, "As in 12 poly spots, 1 parachute.", "12 poly spots"),
        Column(
            "Goals",
            "goals",
            TEXT,
            "That it serves: each a student's code and the goal's number, with ; between them.",
            "MM7 1; JV3 2",
        ),
    ),
    key=("teacher", "name", "variant"),
    role=RowRole.SET,
)

STATIONS = Table(
    "stations",
    "Stations",
    "One row for each station, shared by the district's teachers. Goals are those of students whom you see; "
    "others' stay as they are.",
    (
        Column("Station", "name", TEXT, "Short enough for a card.", "Balance beam", required=True),
        Column("What happens there", "about", TEXT, "For whoever stands there.", "Heel to toe, eyes on the wall"),
        Column("Activity", "activity", TEXT, "Name of an activity in the table of activities.", "Line walk"),
        Column("Students at a time", "at_a_time", INTEGER, "Empty: 3.", "2"),
        Column("Adults", "staff", INTEGER, "That it needs whenever a student is there; empty: 0.", "1"),
        Column("Minutes", "minutes", INTEGER, "How long a turn usually is; empty: 4.", "4"),
        Column("Space", "space_note", TEXT, "What room it takes.", "Along a wall"),
        Column(
            "Caution tags",
            "tags",
            NAMES,
            "The district's caution tags that it has, with ; between them.",
            "height",
        ),
        Column("Equipment", "needs", TEXT, "As in 12 poly spots, 1 parachute.", "1 low beam"),
        Column(
            "Goals",
            "goals",
            TEXT,
            "That it serves: each a student's code and the goal's number, with ; between them.",
            "MM7 1; JV3 2",
        ),
    ),
    key=("name",),
)
