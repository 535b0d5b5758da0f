"""``manage.py prepare_roads county.osm.pbf``: make an OpenStreetMap extract ready, and use it for a district."""

from argparse import ArgumentParser
from pathlib import Path

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from accounts.models import District
from travel.drives.services import roads_choose
from travel.roads.base import RoadError
from travel.roads.prepare import prepare


class Command(BaseCommand):
    """Shows how far it is; a second time for the same file takes a moment."""

    help = "Prepares an OpenStreetMap extract, so that drive times follow its roads."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """The file, and for whom."""
        parser.add_argument("extract", type=Path, help="An .osm.pbf file of your county or state.")
        parser.add_argument("--district", help="Its name; not needed if there is only one.")

    def handle(self, *args: object, extract: Path, district: str | None, **options: object) -> None:
        """Prepare it and choose it."""
        chosen = self._district(district)
        self._shown = ""
        try:
            prepared = prepare(extract, settings.ROADS_DIR, self._show)
        except RoadError as error:
            raise CommandError(f"{error.message} {error.remedy}") from error
        roads_choose(district=chosen, prepared=prepared)
        self.stdout.write(self.style.SUCCESS(f"{chosen} now finds drive times on the roads of {extract.name}."))

    def _district(self, name: str | None) -> District:
        found = list(District.objects.filter(name=name) if name else District.objects.all())
        if len(found) == 1:
            return found[0]
        names = ", ".join(District.objects.values_list("name", flat=True)) or "none yet"
        raise CommandError(f"For which district? Name one of these with --district: {names}.")

    def _show(self, stage: str, percent: int) -> None:
        """A line for each tenth; the engine starts a stage's count again for each of its steps."""
        line = f"{stage}: {percent // 10 * 10} %"
        if line != self._shown:
            self.stdout.write(line)
            self._shown = line
