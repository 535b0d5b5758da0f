"""Rows of joint sessions to records."""

from django.db.models import Q

from accounts.dates import date_words
from caseload.plans.models import ContinuingService, ServiceLine, Student
from schedule.imports.files.values import CellError, nearest
from schedule.imports.rows.context import ParsedRow, TableRun, model_values
from schedule.imports.rows.schools import looked_up
from schedule.joint.models import JointService
from schedule.joint.selectors import line_at
from schedule.joint.services import joint_service_save

SIDES = (("teacher", "statement", "setting"), ("partner", "their_statement", "their_setting"))


def write_joint_sessions(run: TableRun, rows: list[ParsedRow]) -> None:
    """Joint sessions by their two services, whichever of them comes first, and their first day."""
    for row in rows:
        student = looked_up(run, row, "student", run.lookups.student, row.values["student"])
        if student is None:
            continue
        service, partner = (
            looked_up(run, row, mine[0], _service, row, student, mine, theirs)
            for mine, theirs in (SIDES, SIDES[::-1])
        )
        if service is None or partner is None:
            continue
        values = model_values(JointService, row, ("last_day", "times_a_week"))
        found = _saved(row, service, partner)
        if found is None:
            values |= {"service": service, "partner": partner, "first_day": row.values["first_day"]}
        run.put(row, joint_service_save, found or JointService(service=service), values)


def _saved(row: ParsedRow, service: ContinuingService, partner: ContinuingService) -> JointService | None:
    pair = Q(service=service, partner=partner) | Q(service=partner, partner=service)
    rows = JointService.objects.filter(pair, first_day=row.values["first_day"])
    return rows.select_related("service__student__district", "partner").first()


def _service(
    row: ParsedRow, student: Student, names: tuple[str, str, str], other: tuple[str, str, str]
) -> ContinuingService:
    """The student's service that a teacher gives on the first day, or next, of the type that the other gives too.

    Raises CellError.
    """
    username, *words = (row.get(name, "") for name in names)
    theirs = _given_by(row, student, username)
    fitting = _of_types(_fitting(theirs, *words), _types(row, student, other))
    if len(fitting) == 1:
        return fitting[0].service
    told = "; ".join(f"{one.statement}, {one.get_setting_display().lower()}" for one in fitting or theirs)
    how_many = "more than one such service" if fitting else "no such service"
    message = f"“{username}” gives {student.code} {how_many}."
    raise CellError(message, f"Fill statement and setting as here: {told}.")


def _types(row: ParsedRow, student: Student, names: tuple[str, str, str]) -> set[str]:
    """The types of the services that the words of one side fit; those with the student where they fit none."""
    username, *words = (row.get(name, "") for name in names)
    fitting = _fitting(_of_teacher(_given(row, student), username), *words)
    return {one.service_type for one in fitting} or {ServiceLine.Type.DIRECT}


def _of_types(lines: list[ServiceLine], types: set[str]) -> list[ServiceLine]:
    """Those of the types, or all where none is."""
    return [one for one in lines if one.service_type in types] or lines


def _given(row: ParsedRow, student: Student) -> list[ServiceLine]:
    """The terms of a student's services on the row's first day, or next."""
    lines = [line_at(one, row.values["first_day"]) for one in student.services.all()]
    return [one for one in lines if one is not None]


def _of_teacher(lines: list[ServiceLine], username: str) -> list[ServiceLine]:
    return [one for one in lines if one.provider.username.casefold() == username.casefold()]


def _given_by(row: ParsedRow, student: Student, username: str) -> list[ServiceLine]:
    """The terms of a teacher's services on the row's first day, or next. Raises CellError for none."""
    given = _given(row, student)
    theirs = _of_teacher(given, username)
    if theirs:
        return theirs
    message = f"“{username}” gives {student.code} no service from {date_words(row.values['first_day'])} on."
    raise CellError(message, nearest(username, sorted({one.provider.username for one in given})))


def _fitting(lines: list[ServiceLine], statement: str, setting: str) -> list[ServiceLine]:
    return [one for one in lines if _fits(one, statement, setting)]


def _fits(line: ServiceLine, statement: str, setting: str) -> bool:
    same = " ".join(line.statement.split()).casefold() == " ".join(statement.split()).casefold()
    return (same or not statement) and setting in {"", line.setting}
