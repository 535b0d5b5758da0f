"""What is missing for the coming year, in words. Pure."""

from caseload.plans.grades import GRADE_CHOICES
from schedule.next_year.rolling import Coming, EveStay, Lacks

SHORT = {
    Lacks.LEAVES: "Leaves or goes on?",
    Lacks.BUILDING: "Which building?",
    Lacks.CLASS: "Which class?",
    Lacks.SUMMER: "Plan ends in the summer",
    Lacks.PLAN: "Plan ends before",
    Lacks.TEACHER: "No teacher",
}
OF_STUDENTS = {
    Lacks.LEAVES: "It isn’t said whether they leave",  # noqa: RUF001 -- as pages write it
    Lacks.BUILDING: "It isn’t said to which building they go",  # noqa: RUF001 -- as pages write it
    Lacks.CLASS: "No class that goes on for their grade",
    Lacks.SUMMER: "Their plan ends in the summer: renew it",
    Lacks.PLAN: "No plan on the first day",
    Lacks.TEACHER: "Nobody has them on the first day",
}
OF_CLASSES = {"teacher": "No teacher named", "period": "No physical education time"}
_GRADES = dict(GRADE_CHOICES)


def standing_words(now: EveStay, room: str) -> str:
    """``Grade 3, Room 4``."""
    return ", ".join(filter(None, (_GRADES[now.grade], room)))


def coming_words(coming: Coming, now: EveStay, building: str, room: str) -> str:
    """``Grade 6 at Cold Spring, Room 9``; the building only where it is another one."""
    if coming.leaves:
        return "Leaves"
    if Lacks.LEAVES in coming.lacks:
        return "Not said"
    place = f" at {building}" if building and coming.building_id != now.building_id else ""
    return ", ".join(filter(None, (f"{_GRADES[coming.grade]}{place}", room)))
