"""``manage.py give_password``: the way back in for whoever has no coordinator to ask."""

from argparse import ArgumentParser
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from accounts.people.services import GIVEN_DAYS, password_give_at_server


class Command(BaseCommand):
    """Gives a person a new password and prints it once."""

    help = "Give somebody a new password, such as a district's only coordinator; it works for one sign-in."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Who."""
        parser.add_argument("username", metavar="SIGN-IN-NAME")

    def handle(self, *args: Any, **options: Any) -> None:
        """Give it, or say that there is nobody of this name."""
        try:
            person, password = password_give_at_server(username=options["username"])
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
        self.stdout.write(f"The sessions of {person.username} are ended. The new password:")
        self.stdout.write(f"  {password}")
        self.stdout.write(f"It works for one sign-in within {GIVEN_DAYS} days, and is shown only here.")
