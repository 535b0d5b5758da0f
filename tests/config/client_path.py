"""One whole path by a client that was generated from the API's schema: ``python -m tests.config.client_path``.

It is run beside a server, with the generated package `api_client` on its path, and asks by that alone: whatever the
schema says wrong of a body, an answer or a status fails here. It takes its address, its token and the Monday to
plan from a line of JSON, says ``planning`` once a plan is asked for, waits for a line, and ends with what the
minutes report says.
"""

import datetime as dt
import json
import sys
from importlib import import_module
from typing import Any
from uuid import uuid4

PACKAGE = "api_client"


class Client:
    """The generated package, by the names of its operations and models."""

    def __init__(self, site: str, token: str) -> None:
        made = import_module(f"{PACKAGE}.client").AuthenticatedClient
        self._client = made(base_url=site, token=token, raise_on_unexpected_status=True, timeout=None)

    def ask(self, operation: str, *args: Any, status: int = 200, **values: Any) -> Any:
        """An operation such as ``buildings.buildings_create``; its answer as the client reads it.

        A dictionary `body` becomes the model that the operation takes, by its `_request` name in `model`.
        """
        body, model = values.pop("body", None), values.pop("model", "")
        if body is not None:
            values["body"] = _model(model).from_dict(body)
        answer = import_module(f"{PACKAGE}.api.{operation}").sync_detailed(*args, client=self._client, **values)
        if answer.status_code != status:
            message = f"{operation} answered {answer.status_code}: {answer.content.decode()}"
            raise SystemExit(message)
        return answer.parsed

    def make(self, operation: str, model: str, **body: Any) -> Any:
        """A new row."""
        return self.ask(operation, status=201, model=model, body=body)


def _model(name: str) -> Any:
    module = import_module(f"{PACKAGE}.models.{name}")
    return getattr(module, "".join(part.title() for part in name.split("_")))


def main() -> None:
    """Building, bells, hours, student, plan, minutes; a week planned, published, logged; the report."""
    told = json.loads(sys.stdin.readline())
    client, monday = Client(told["site"], told["token"]), dt.date.fromisoformat(told["monday"])
    first, last = monday - dt.timedelta(days=28), monday + dt.timedelta(days=120)
    student = _district(client, first, last)
    plan = client.make("plans.plans_create", "plan_request", student=student, start=str(first), end=str(last))
    service = {"plan": plan.id, "statement": "2 x 30 min/week", "setting": "one_to_one"}
    line = client.make("service_lines.service_lines_create", "service_line_request", **service)
    week = _planned(client, monday)
    version = client.ask("weeks.weeks_publish_create", week, model="publish_request", body=_seen(client, week))
    logged = _log(client, monday)
    report = client.ask("reports.report_student", student, first=monday, last=monday + dt.timedelta(days=6))
    sys.stdout.write(
        json.dumps(
            {
                "minutes_a_session": line.minutes, "status": str(version.status), "logged": logged,
                "report": report.to_dict(),
            }
        )
    )  # fmt: skip


def _district(client: Client, first: dt.date, last: dt.date) -> int:
    """A school with a year, bells, a room and a student; the teacher's hours. The student's id."""
    year = {"name": "This year", "first_day": str(first), "last_day": str(last)}
    client.make("school_years.school_years_create", "school_year_request", **year)
    school = client.make(
        "buildings.buildings_create", "building_request", code="OAK", name="Oak Hollow School", level="elementary",
        latitude="43.2", longitude="-75.2",
    )  # fmt: skip
    periods = [
        {"name": f"Period {number}", "kind": "instruction", "start": f"{hour:02}:00", "end": f"{hour:02}:50"}
        for number, hour in enumerate(range(8, 14), 1)
    ]
    bells = {"building": school.id, "name": "Regular day", "kind": "regular", "periods": periods}
    client.make("bell_schedules.bell_schedules_create", "bell_schedule_request", **bells)
    client.make("spaces.spaces_create", "space_request", building=school.id, name="Gym", kind="gym")
    for weekday in range(5):
        hours = {"weekday": weekday, "start": "07:45", "end": "15:15"}
        client.make("contract_days.contract_days_create", "contract_day_request", **hours)
    client.make("teacher_rules.teacher_rules_create", "teacher_rules_request", lunch_minutes=30)
    student = client.make(
        "students.students_create", "student_request", code="Q1", first_name="Ola", last_name="Tarn", grade="3",
        building=school.id, first_day=str(first),
    )  # fmt: skip
    return int(student.id)


def _planned(client: Client, monday: dt.date) -> int:
    """The draft of a week that was asked for; its id. Whoever called runs the job in the meantime."""
    dates = {"first_date": str(monday), "last_date": str(monday + dt.timedelta(days=4)), "time_limit": 1}
    run = client.make("plan_runs.plan_runs_create", "start_request", **dates)
    sys.stdout.write("planning\n")
    sys.stdout.flush()
    sys.stdin.readline()
    done = client.ask("plan_runs.plan_runs_retrieve", run.run_id)
    if done.state != "done":
        message = f"The plan is {done.state}: {done.error}"
        raise SystemExit(message)
    return int(done.weeks[0].week_id)


def _seen(client: Client, week: int) -> dict[str, int]:
    return {"expected_revision": client.ask("weeks.weeks_retrieve", week).revision}


def _log(client: Client, monday: dt.date) -> list[int]:
    """Every session of the week was given as planned; the minutes of each entry."""
    minutes = []
    for day in range(5):
        for one in client.ask("sessions_to_log.sessions_to_log_list", date=monday + dt.timedelta(days=day)):
            said = {"session": str(one.uid), "client_id": str(uuid4()), "exceptions": []}
            entries = client.make("session_logs.session_logs_create", "session_log_request", **said)
            minutes += [int(entry.versions[-1].delivered_minutes) for entry in entries]
    return minutes


if __name__ == "__main__":
    main()
