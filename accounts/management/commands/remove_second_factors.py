"""The way back in for a district's only coordinator who lost phone and recovery codes."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from accounts.models import Person
from accounts.people.services import NO_SUCH_SIGN_IN
from accounts.sign_in.services.factors import person_factors_remove


class Command(BaseCommand):
    """Removes somebody's second factors and recovery codes: the password alone lets them in."""

    help = "Remove a person's second factors and recovery codes: the password alone lets them in."

    def add_arguments(self, parser: CommandParser) -> None:
        """Whose."""
        parser.add_argument("username")

    def handle(self, *args: Any, **options: Any) -> None:
        """Remove them."""
        row = Person.objects.filter(username__iexact=options["username"], is_active=True).first()
        if row is None:
            raise CommandError(NO_SUCH_SIGN_IN)
        person_factors_remove(actor=None, row=row)
        self.stdout.write(f"{row.username} signs in with the password alone until they set up a second step again.")
