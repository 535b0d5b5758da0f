"""The district of benchmarks/long_steps.py: a year to start, and a proposal that hands half of the students over.

Invented names only.
"""

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from benchmarks import load_district as built  # sets Django up, so it comes first

# isort: split
from django.core.management import call_command
from django.db import transaction
from django.test import Client
from django.urls import reverse

from accounts.models import District, Person
from jobs.models import Job
from schedule.assigning.kept import question_kept, riders_kept
from schedule.assigning.models import AssigningProposal, AssigningRun
from schedule.assigning.selectors.loading import staffing_load
from schedule.assigning.services.taking_over import proposal_take_back, proposal_take_over
from schedule.calendar.models import ContractDay, SchoolYear, TeacherRules
from schedule.long_steps.models import LongStep
from schedule.next_year.models import NextYear
from schedule.next_year.services.drafting import next_year_begin
from schedule.next_year.services.starting import next_year_start
from schedule.next_year.services.taking_back import next_year_take_back
from schedule.planner.assign.answer import Favoring, Proposal, StaffingFigures
from schedule.planner.assign.record import as_record
from schedule.weeks.selectors.pages import district_today

A_WEEK = dt.timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Step:
    """One step: its press, forgetting that it was asked for, and all of it here and now."""

    what: str
    address: str
    client: Client
    whole: Callable[[], object]

    def ask(self) -> None:
        """Press the button. Raises ``RuntimeError`` where it doesn't lead to the page of a step."""
        answer = self.client.post(self.address)
        if not answer.headers.get("Location", "").startswith("/steps/"):
            message = f"{self.what}: {answer.status_code} {answer.headers.get('Location')}"
            raise RuntimeError(message)

    def forget(self) -> None:
        """As before it was asked for."""
        LongStep.objects.all().delete()
        Job.objects.filter(kind="long_step").delete()


def steps(teachers: int, students: int) -> Iterator[Step]:
    """Fill the migrated, empty database, and give each step when the one before is done."""
    call_command("migrate", verbosity=0)
    built.STUDENTS = students
    with transaction.atomic():
        coordinator, people = _fill(teachers)
    client = Client(SERVER_NAME="127.0.0.1")
    client.force_login(coordinator)
    year, row = _year(coordinator), _proposal(coordinator, people)
    who = coordinator
    ways: list[tuple[str, str, int, Callable[[], object]]] = [
        ("start a year", "next_year_start", year.pk, lambda: next_year_start(actor=who, row=year)),
        ("take it back", "next_year_take_back", year.pk, lambda: next_year_take_back(actor=who, row=year)),
        ("take a proposal over", "proposal_take_over", row.pk, lambda: proposal_take_over(actor=who, row=row)),
        ("take it back", "proposal_take_back", row.pk, lambda: proposal_take_back(actor=who, row=row)),
    ]
    for what, name, pk, whole in ways:
        yield Step(what, reverse(name, args=[pk]), client, whole)


def _fill(teachers: int) -> tuple[Person, list[Person]]:
    district = District.objects.create(name="Marrow Vale County", time_zone="America/New_York", state="NY")
    coordinator = built.person_made(district, "coordinator", Person.Role.COORDINATOR, 0)
    today = district_today(coordinator)
    year = {"start": today - dt.timedelta(days=80), "end": today + dt.timedelta(days=180)}
    SchoolYear.objects.create(district=district, name="This year", first_day=year["start"], last_day=year["end"])
    schools = built.schools_made(district, teachers)
    people = [built.person_made(district, f"teacher{at:03}", Person.Role.TEACHER, at) for at in range(teachers)]
    for at, teacher in enumerate(people):
        own = [schools[(at + step) % len(schools)] for step in range(built.SCHOOLS)]
        ContractDay.objects.bulk_create(
            ContractDay(district=district, teacher=teacher, weekday=day, start=dt.time(8), end=dt.time(15, 30))
            for day in range(built.DAYS)
        )
        TeacherRules.objects.create(district=district, teacher=teacher)
        built.caseload_made(teacher, own, year)
    return coordinator, people


def _year(coordinator: Person) -> NextYear:
    this = SchoolYear.objects.get()
    first = this.last_day + 8 * A_WEEK
    return next_year_begin(actor=coordinator, name="Next", first_day=first, last_day=first + 40 * A_WEEK)


def _proposal(coordinator: Person, people: list[Person]) -> AssigningProposal:
    """Nothing is searched for it: each other teacher's services are with the next one."""
    first = district_today(coordinator) + 2 * A_WEEK
    district = coordinator.district
    if district is None:
        raise ValueError(coordinator)
    loaded = staffing_load(district, people, first, coordinator)
    to = {str(one.pk): str(other.pk) for one, other in zip(people[::2], people[1::2], strict=False)}
    assignment = {one.id: to.get(one.last or "", one.last or "") for one in loaded.question.services}
    figures = StaffingFigures(*[0] * 13)
    record = as_record(Proposal(Favoring.DRIVING, assignment, (), figures, 0.0))
    run = AssigningRun.objects.create(
        district=district,
        first_day=first,
        asked_by=coordinator,
        job=Job.objects.create(kind="assign_students", state=Job.State.DONE),
        asked={
            "question": question_kept(loaded.question),
            "riders": riders_kept(loaded.riders),
            "monday": loaded.monday,
            "notes": [],
        },
    )
    kept = {"record": record, "riders": {}, "changes": []}
    return AssigningProposal.objects.create(run=run, position=1, title="Least driving", found=kept, now=kept)
