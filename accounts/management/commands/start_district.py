"""``manage.py start_district``: a district of your own, and the first person who can sign in to it."""

from argparse import ArgumentParser
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from accounts.district.states import state_problem
from accounts.people.services import GIVEN_DAYS, district_start

LABELS = {"name": "District", "time_zone": "--time-zone", "state": "--state", "username": "--coordinator"}


class Command(BaseCommand):
    """Makes a district and its coordinator, and prints the coordinator's password once."""

    help = "Start a district of your own: prints a one-time password for its coordinator, who adds everyone else."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """The district, and who answers for it."""
        parser.add_argument("name", help="name of the district, such as “Fallow County Schools”")
        parser.add_argument("--time-zone", default="America/New_York", help="such as America/Chicago")
        parser.add_argument("--state", default="", help="two letters, for its public holidays, such as NY")
        parser.add_argument("--coordinator", required=True, help="sign-in name of the coordinator")

    def handle(self, *args: Any, **options: Any) -> None:
        """Start it, or say what is wrong."""
        state = options["state"].strip().upper()
        if problem := state_problem(state):
            raise CommandError(f"--state: {problem}")
        try:
            district, person, password = district_start(
                name=options["name"],
                time_zone=options["time_zone"],
                state=state,
                username=options["coordinator"],
            )
        except ValidationError as error:
            found = error.message_dict.items()
            raise CommandError(
                " ".join(f"{LABELS.get(name, name)}: {' '.join(texts)}" for name, texts in found)
            ) from error
        self.stdout.write(
            f"{district} is set up. Its coordinator signs in once with these, then chooses a password:"
        )
        self.stdout.write(f"  name      {person.username}")
        self.stdout.write(f"  password  {password}")
        self.stdout.write(f"The password works for one sign-in within {GIVEN_DAYS} days, and is shown only here.")
        self.stdout.write(f"If it is lost: manage.py give_password {person.username}")
        self.stdout.write("The coordinator adds everyone else under People.")
