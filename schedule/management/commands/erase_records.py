"""``manage.py erase_records NAME``: lists what a district's rules would erase; with its digest, erases it."""

import datetime as dt
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.models import Student
from caseload.retention.models import ErasureRun
from schedule.erasing.selectors.told import ToldStudent, list_told
from schedule.erasing.services.runs import erasure_confirm, erasure_list


class Command(BaseCommand):
    """Makes a list, or has a list erased. Students stand in it by code."""

    help = (
        "List what the district's rules for keeping records would erase, what stays, and why. Nothing is erased. "
        "With --confirm and the digest of a list, exactly that is erased, for good."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Who, as of which day, of whom; or which list."""
        parser.add_argument("coordinator", help="the user name of the coordinator who answers for it")
        parser.add_argument(
            "--as-of", type=dt.date.fromisoformat, help="count up to this day, such as 2026-07-01; else up to today"
        )
        parser.add_argument("--student", help="the code of one student whose parents asked to have all destroyed")
        parser.add_argument(
            "--confirm", metavar="DIGEST", help="erase the list with this digest; it can't be taken back"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """List, or confirm."""
        actor = Person.objects.filter(username=options["coordinator"], is_active=True).first()
        if actor is None or not actor.has_perm("records.keep"):
            raise CommandError("There is no such coordinator. Give the user name of one who may sign in.")
        try:
            if options["confirm"]:
                self._confirm(actor, options["confirm"])
            else:
                self._list(actor, options)
        except ApplicationError as error:
            raise CommandError(error.message) from error

    def _list(self, actor: Person, options: dict[str, Any]) -> None:
        student = None
        if options["student"]:
            student = Student.objects.visible_to(actor).filter(code=options["student"]).first()
            if student is None:
                raise CommandError("No student of the district has this code.")
        told = list_told(erasure_list(actor=actor, as_of=options["as_of"], student=student))
        self.stdout.write(f"As of {date_words(told.run.as_of)}. Nothing is erased by this list.")
        for one in told.students:
            self.stdout.write(f"goes   {_line(one)}: {one.rows:,} rows ({one.tables})")
        for kind in told.kinds:
            stays = f"; {kind.stays}" if kind.stays else ""
            self.stdout.write(f"goes   {kind.kind}, until {kind.until}: {kind.rows:,} rows{stays}")
        for one in told.stays:
            self.stdout.write(f"stays  {_line(one)}: {one.why}")
        self.stdout.write(f"{told.rows:,} rows would go. To erase them for good: --confirm {told.run.digest}")

    def _confirm(self, actor: Person, digest: str) -> None:
        run = ErasureRun.objects.visible_to(actor).filter(digest=digest, confirmed_at=None).first()
        if run is None:
            raise CommandError("No list that waits has this digest. Make a list first.")
        erasure_confirm(actor=actor, run=run, digest=digest)
        self.stdout.write("It is being erased in the background. This can't be taken back.")


def _line(one: ToldStudent) -> str:
    told = f", parents {one.told}" if one.told else ""
    return f"{one.who}, {one.kind}, since {one.event or 'no date'}{told}"
