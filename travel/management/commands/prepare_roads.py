"""``manage.py prepare_roads county.osm.pbf``: make an OpenStreetMap extract ready, and use it for a district."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from accounts.errors import ApplicationError
from accounts.models import District
from travel.drives.engines import ExtractFit, extract_fit
from travel.drives.services import roads_choose, roads_turn
from travel.roads.base import RoadError
from travel.roads.osrm_engine import OsrmEngine
from travel.roads.prepare import Prepared, prepare


class Command(BaseCommand):
    """Shows how far it is; a second time for the same file takes a moment."""

    help = "Prepares an OpenStreetMap extract, so that drive times follow its roads."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """The file, and for whom."""
        parser.add_argument("extract", type=Path, nargs="?", help="An .osm.pbf file of your county or state.")
        parser.add_argument("--district", help="Its name; not needed if there is only one.")
        parser.add_argument(
            "--anyway", action="store_true", help="Use it even if it reaches none of the buildings."
        )
        turn = parser.add_mutually_exclusive_group()
        turn.add_argument("--off", action="store_true", help="Stop using what is prepared; drives are estimated.")
        turn.add_argument("--on", action="store_true", help="Use again what is prepared.")

    def handle(self, *args: object, extract: Path | None, district: str | None, **options: Any) -> None:
        """Prepare it, hold it against the district's buildings, and choose it; or only turn it off or on."""
        chosen = self._district(district)
        if options["off"] or options["on"]:
            self._turn(chosen, use=options["on"])
            return
        if extract is None:
            raise CommandError("Name the extract: prepare_roads county.osm.pbf. Or use --off or --on.")
        self._shown = ""
        try:
            prepared = prepare(extract, settings.ROADS_DIR, self._show)
            fit = extract_fit(chosen, OsrmEngine(settings.ROADS_DIR, prepared.key))
        except RoadError as error:
            raise CommandError(f"{error.message} {error.remedy}") from error
        if fit.buildings and not fit.reached and not options["anyway"]:
            raise CommandError(
                f"{extract.name} has no road near any of the {fit.buildings} buildings of {chosen}: it is probably "
                "the extract of another place. Nothing was changed. Name the right one, or say --anyway."
            )
        self._choose(chosen, prepared, fit)

    def _choose(self, district: District, prepared: Prepared, fit: ExtractFit) -> None:
        """Use it, and say what it lacks."""
        roads_choose(district=district, prepared=prepared)
        self.stdout.write(
            self.style.SUCCESS(f"{district} now finds drive times on the roads of {prepared.extract_name}.")
        )
        if not fit.buildings:
            self.stdout.write("No building has coordinates yet, so nothing could be checked.")
            return
        self.stdout.write(f"It reaches {fit.reached} of {fit.buildings} buildings.")
        for sentence in fit.off_road:
            self.stdout.write(self.style.WARNING(sentence))
        if fit.without_road:
            self.stdout.write(
                self.style.WARNING(
                    f"No road joins {fit.without_road} of the drives between the others; those are estimated. If "
                    "the map ends between them, prepare a larger extract."
                )
            )

    def _turn(self, district: District, *, use: bool) -> None:
        try:
            row = roads_turn(district=district, use=use)
        except ApplicationError as error:
            raise CommandError(error.message) from error
        now = "follow the roads of" if use else "no longer follow the roads of"
        self.stdout.write(self.style.SUCCESS(f"Drive times of {district} {now} {row.roads_name}."))

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
