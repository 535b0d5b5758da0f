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
        service, partner = (looked_up(run, row, names[0], _service, row, student, names) for names in SIDES)
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


def _service(row: ParsedRow, student: Student, names: tuple[str, str, str]) -> ContinuingService:
    """The student's service that a teacher gives on the first day, or next. Raises CellError."""
    username, statement, setting = (row.get(name, "") for name in names)
    theirs = _given_by(row, student, username)
    fitting = [one for one in theirs if _fits(one, statement, setting)]
    if len(fitting) == 1:
        return fitting[0].service
    told = "; ".join(f"{one.statement}, {one.get_setting_display().lower()}" for one in fitting or theirs)
    how_many = "more than one such service" if fitting else "no such service"
    message = f"“{username}” gives {student.code} {how_many}."
    raise CellError(message, f"Fill statement and setting as here: {told}.")


def _given_by(row: ParsedRow, student: Student, username: str) -> list[ServiceLine]:
    """The terms of a teacher's services on the row's first day, or next. Raises CellError for none."""
    lines = [line_at(one, row.values["first_day"]) for one in student.services.all()]
    given = [one for one in lines if one is not None]
    theirs = [one for one in given if one.provider.username.casefold() == username.casefold()]
    if theirs:
        return theirs
    message = f"“{username}” gives {student.code} no service from {date_words(row.values['first_day'])} on."
    raise CellError(message, nearest(username, sorted({one.provider.username for one in given})))


def _fits(line: ServiceLine, statement: str, setting: str) -> bool:
    same = " ".join(line.statement.split()).casefold() == " ".join(statement.split()).casefold()
    return (same or not statement) and setting in {"", line.setting}
