"""Help on the pages of schools and the year: buildings, bells, calendar, imports."""

from config.manual.lines.asking import PageHelp, says

_NEXT = "year#the-next-year"
_SCHOOL, _CALENDAR, _TABLES = "year#schools-bells-and-spaces", "year#the-calendar", "year#bring-in-tables"

SCHOOLS: dict[str, PageHelp] = {
    "next_year_home": says(
        "The coming school year, made beside this one from a copy.",
        "Begin it with its first and last day; then go on with it whenever you like.",
        "Nothing of this year changes by it.",
        at=_NEXT,
    ),
    "next_year": says(
        "The coming year: its days, and each building with what is missing.",
        "Open a building to say what becomes of whom. Keep the special days that come again.",
        "A draft until you start it; then it holds from its first day on.",
        at=_NEXT,
    ),
    "next_year_missing": says(
        "What is missing for the coming year, building by building, down to the student and the class.",
        "A name leads to where it is said.",
        "Only who has nowhere to go keeps the year from being started.",
        at=_NEXT,
    ),
    "next_year_building": says(
        "A building in the coming year: up to which grade, its classes, and what becomes of each student.",
        "Change only what differs from the rule: a grade up, and on to the next building after the highest.",
        "This year’s students, classes and weeks stay as they are.",
        at=_NEXT,
    ),
    "next_year_": says(
        "The coming year’s days, dropping its draft, or starting it.",
        "The page lists what starting writes before anything is written.",
        "It can be taken back until a session of that year is logged.",
        at=_NEXT,
    ),
    "next_period_": says(
        "A marking period of the coming year.",
        "Those of a year lie inside it and apart from each other.",
        "It isn’t in the calendar before the year is started.",
        at=_NEXT,
    ),
    "next_day_": says(
        "A special day of the coming year.",
        "Say whether it comes again, and on which dates.",
        "It isn’t in the calendar before the year is started.",
        at=_NEXT,
    ),
    "building_list": says(
        "The district’s schools and other places that are driven to.",
        "A name leads to its bells, spaces, classes and how to get in.",
        "A school that closes for good gets a last day; it isn’t deleted.",
        at=_SCHOOL,
    ),
    "building_detail": says(
        "One school: bells, rotation, spaces, classes, where to park, which door.",
        "Each part has its own links to add and to change.",
        "Its closed days stand in the calendar.",
        at=_SCHOOL,
    ),
    "building_": says(
        "A school’s own facts: name, street address, phone, where to park and which door.",
        "Its place on the map decides the drives.",
        "Weeks in force keep the drives that they were planned with.",
        at=_SCHOOL,
    ),
    "space_": says(
        "A gym, room or field of a school.",
        "Say when it is free; without any times it is free all day. Cautions can be about it, too.",
        "Weeks in force stay as they are.",
        at=_SCHOOL,
    ),
    "free_time_": says(
        "When a space is free for you.",
        "A space without any times is free all day.",
        "Weeks in force stay as they are.",
        at=_SCHOOL,
    ),
    "class_": says(
        "A class of a school: students who have physical education together.",
        "Say what sort it is and how many students to an adult.",
        "Which students are in it is said with each student.",
        at=_SCHOOL,
    ),
    "class_day_": says(
        "When a class is at school, where it isn’t there all day, and when it has its lunch.",
        "Its students are taken only then; its lunch takes the place of its grade’s.",
        "Weeks in force stay as they are.",
        at=_SCHOOL,
    ),
    "class_meeting_": says(
        "When and where a class meets.",
        "Pushed-in sessions are planned inside these times.",
        "Weeks in force stay as they are.",
        at=_SCHOOL,
    ),
    "bell_": says(
        "A school’s bells: the periods of one sort of day, and when that sort of day is.",
        "Other periods ring from a day on, and what rang before stays. The last change can be taken back.",
        "Weeks in force stay; what no longer fits is shown before you save.",
        at=_SCHOOL,
    ),
    "rotation_change": says(
        "The rotation of a school: A and B days, weeks, or a cycle of so many days.",
        "Say one date and its day; the rest follows the calendar.",
        "Weeks in force stay, and so does what days were called before. The last change can be taken back.",
        at=_SCHOOL,
    ),
    "grade_rotation_": says(
        "A rotation that some grades of a school follow by themselves, beside the school’s own.",
        "Its labels differ from the school’s, so that “B” or “MS2” says which is meant wherever days are named.",
        "Weeks in force stay, and so does what days were called before. The last change can be taken back.",
        at=_SCHOOL,
    ),
    "calendar": says(
        "The school year by month: closed days, staff days, short days, cycle days.",
        "Enter here what is known for the year, or read it from the district’s website.",
        "What happens to days that are planned is said under Something happened.",
        at=_CALENDAR,
    ),
    "school_year_": says(
        "The first and the last day of school.",
        "Everything that counts by the year counts from here.",
        "Holidays are entered as days of the calendar.",
        at=_CALENDAR,
    ),
    "marking_period_": says(
        "A grading period of the year.",
        "Services that owe by the marking period, and progress reports, go by it.",
        "It closes no month of the log.",
        at=_CALENDAR,
    ),
    "calendar_entry_": says(
        "A day, or some days, on which one or all schools are different.",
        "For days that are planned already you see first what it does.",
        "An entry that comes from something that happened is taken back there.",
        at=_CALENDAR,
    ),
    "calendar_import": says(
        "The calendar file of a school’s or the district’s website.",
        "Each event is shown with what it is taken for, before anything is saved.",
        "What isn’t understood is asked about, not guessed.",
        at=_CALENDAR,
    ),
    "holidays_import": says(
        "Public holidays of your state.",
        "They are shown before anything is saved; leave out the ones on which there is school.",
        "A district’s own days aren’t among them.",
        at=_CALENDAR,
    ),
    "calendar_source_": says(
        "The address of a calendar on a website, read every hour.",
        "What is new is shown as questions or saved, as you choose.",
        "What you entered yourself isn’t changed by it.",
        at=_CALENDAR,
    ),
    "word_rule_": says(
        "A word of your calendars and what it means here, such as “PT conferences”.",
        "Events that hold it are taken for that from then on.",
        "What is saved already stays.",
        at=_CALENDAR,
    ),
    "import_": says(
        "Tables of your district: schools, bells, spaces, classes, students, plans, and more.",
        "Take a template, fill it in, and look at what it would do before it is saved.",
        "It is saved whole or not at all, and the last one can be taken back.",
        at=_TABLES,
    ),
}
