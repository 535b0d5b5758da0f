"""The invented county as one term: its rotating school, its A and B weeks, its wishes.

    python -m benchmarks.plan_term_county FIRST LAST [--seconds 120]   (DATABASE_URL names a database with the demo)

Prints the line that ``benchmarks.plan_term`` prints of generated terms. Nothing is written to the database.
"""

import argparse
import datetime as dt

import django

django.setup()

from django.db import transaction  # noqa: E402 -- models can be imported only after the set-up

from accounts.models import Person  # noqa: E402
from benchmarks.plan_term import measured, planned  # noqa: E402
from schedule.planner.term.term import Term  # noqa: E402
from schedule.planner.warm import warm_up  # noqa: E402
from schedule.terms.services.loading import term_load  # noqa: E402
from schedule.terms.services.plans import term_plan_start  # noqa: E402


def loaded(first: dt.date, last: dt.date) -> Term:
    """The teacher's weeks between two dates, no timetable in force."""
    teacher = Person.objects.get(username="teacher")
    with transaction.atomic():
        plan = term_plan_start(actor=teacher, teacher=teacher, first_date=first, last_date=last, afresh=True)
        term = term_load(plan.run).term(None, plan.worth)
        transaction.set_rollback(True)
    return term


def main() -> None:
    """Run the line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("first", type=dt.date.fromisoformat)
    parser.add_argument("last", type=dt.date.fromisoformat)
    parser.add_argument("--seconds", type=float, default=120.0, help="of work, counted in steps")
    parser.add_argument("--workers", type=int, default=2)
    asked = parser.parse_args()
    term = loaded(asked.first, asked.last)
    owed = sum(service.sessions for week in term.weeks for service in week.problem.services)
    print(f"{len(term.weeks)} weeks that owe {owed} sessions; compiling: {warm_up():.1f} s", flush=True)
    measured("the county: ours", planned, term, asked)


if __name__ == "__main__":
    main()
