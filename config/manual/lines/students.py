"""Help on the pages of students: plans, services, care."""

from config.manual.lines.asking import PageHelp, says

_AIDES = "students#aides-and-their-hours"
_JOINT = "students#given-together-with-another-teacher"
_PLANS, _CARE = "students#plans-and-services", "students#supports-cautions-and-contacts"

STUDENTS: dict[str, PageHelp] = {
    "student_list": says(
        "The students of a caseload.",
        "A name leads to everything about that student. Add one with a plan, or one who has none yet.",
        "Students of other teachers aren’t listed, except to the coordinator.",
        at="students#a-new-student",
    ),
    "student_detail": says(
        "Everything about one student: school, plan, services, goals, supports, cautions, contacts.",
        "Each part has its own links to add and to change.",
        "What was done in sessions stands in the log and the page of minutes.",
        at="students#a-new-student",
    ),
    "student_": says(
        "A student’s own facts: name, grade, school, class.",
        "A move to another school, or leaving, is said with its day, so that the past stays as it was.",
        "What the plan owes is entered with the plan.",
        at="students#a-new-student",
    ),
    "student_without_plan": says(
        "A student who came without a plan.",
        "Enter what you know. What to try stands on the student’s page until a plan is there.",
        "Nothing is owed until a plan says so.",
        at="students#arrived-without-a-plan",
    ),
    "student_move": says(
        "A student who goes to another school or class, from a day on.",
        "What it changes of services and planned sessions is shown before it is saved.",
        "Days before stay as they were.",
        at="students#a-move",
    ),
    "student_leave": says(
        "A student’s last day.",
        "What ends with it is shown before it is saved. It can be taken back.",
        "Nothing of the past is deleted.",
        at="students#a-move",
    ),
    "program_new": says(
        "A program beside the school that the plan names, at another building.",
        "Say from when until when.",
        "The student stays at the school, too.",
        at="students#a-move",
    ),
    "enrollment_": says(
        "Where a student was from when until when.",
        "Correct what was entered wrong, or take the last move back.",
        "A real move is said as a move, so that the past stays.",
        at="students#a-move",
    ),
    "caseload_hand_over": says(
        "Students who go from one teacher’s caseload to another’s, from a day on.",
        "Choose the students and the day. What it changes is shown before it is saved.",
        "Days before stay with the teacher who had them.",
        at="year#when-teachers-change",
    ),
    "hand_over_take_back": says(
        "A hand-over of a caseload, taken back.",
        "Everything is as it was before.",
        "What has changed since is named, and nothing is taken back then.",
        at="year#when-teachers-change",
    ),
    "plan_": says(
        "A student’s individual plan, from its first to its last day.",
        "Renewing makes the next one with the same services, to be changed.",
        "What is owed are its services, one by one.",
        at=_PLANS,
    ),
    "service_": says(
        "What a plan owes: so often, so long, in which setting, from when until when.",
        "Type the frequency as the plan writes it; where it can mean two things, choose.",
        "A change from a day on leaves the days before as they were.",
        at=_PLANS,
    ),
    "hold_": says(
        "A time when a student can’t be taken, such as reading or speech.",
        "No session of the student is planned in it. A class waits for all of its students.",
        "Weeks in force stay as they are.",
        at="students#times-when-a-student-cant-be-taken",
    ),
    "support_": says(
        "What helps a student take part, with where it is written and of which date.",
        "Mark it provisional while the team hasn’t said.",
        "The last change can be taken back on the student’s page.",
        at=_CARE,
    ),
    "caution_": says(
        "What to be careful about, in the plan’s words, with emergency steps and who decides.",
        "Tags say what it is about, so that activities and places can ask.",
        "It says whom to ask. It never says that something is allowed.",
        at=_CARE,
    ),
    "contact_": says(
        "Whom to call or write about a student or a class.",
        "Parents can be entered only where the district allows it.",
        "Nobody is called or written to by the program.",
        at=_CARE,
    ),
    "joint_service_": says(
        "Which sessions two teachers give a student together.",
        "From its first day on, whoever is planned second goes by the other’s week. Changes can be taken back.",
        "Weeks that are planned already stay until you plan them again; minutes are logged by each teacher.",
        at=_JOINT,
    ),
    "aide_list": says(
        "When each aide is there, and which students need one there.",
        "New hours hold from a day on; plan the term again from that day, and see what moves.",
        "Hours without a student who needs the aide bar nothing. Nobody is told of them by the program.",
        at=_AIDES,
    ),
    "aide_hours_": says(
        "The days and times of one aide, from a day on.",
        "Write them as schools do: Mon-Thu 8:00 to 11:30; Fri 8:00 to 10:00. The last change can be taken back.",
        "Weeks that are planned already stay until you plan them again.",
        at=_AIDES,
    ),
    "class_contacts": says(
        "Whom to ask about a class: its teacher, its aides.",
        "Who has an address hears when something of the class changes.",
        "A school office doesn’t see it.",
        at=_CARE,
    ),
    "class_contact_": says(
        "One person to ask about a class.",
        "With a mail address that person hears when something of the class changes.",
        "The last change can be taken back.",
        at=_CARE,
    ),
    "care_": says(
        "Who looked at supports, cautions and contacts, and what the district allows about them.",
        "Each view by a substitute is recorded: student, page and time.",
        "Teachers and coordinators aren’t recorded when they look.",
        at="privacy#what-is-recorded",
    ),
    "caution_tags": says(
        "The words that cautions, activities and places share, such as height or water.",
        "Where a caution and an activity have the same one, the program says whom to ask first.",
        "What has no tag asks nothing. That doesn’t mean that nothing has to be asked.",
        at=_CARE,
    ),
    "caution_tag_": says(
        "One word that cautions, activities and places share.",
        "Name it as teachers say it.",
        "The last change of the tags can be taken back.",
        at=_CARE,
    ),
    "try_": says(
        "What is tried with a student who came without a plan, and what was seen.",
        "Tap a suggestion, or write your own; then say what came of it.",
        "Suggestions are common practice, not advice for this student.",
        at="students#arrived-without-a-plan",
    ),
}
