"""What a district has decided about drive times."""

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from accounts.models import DistrictRow, ScopedQuerySet
from travel.roads.tiles import TileAddressError, tile_origin


def validate_tile_url(value: str) -> None:
    """Refuse an address that no tiles can be asked under."""
    try:
        tile_origin(value)
    except TileAddressError as error:
        raise ValidationError(str(error), code="no_tiles") from error


class TravelChoices(DistrictRow):
    """One row a district; without it nothing is prepared, drives take their middle value, nothing is sent out."""

    class RoadsBetween(models.TextChoices):
        """What roads an estimate takes for granted; nothing said counts as a town, the slower one."""

        TOWN = "town", "Mostly streets of towns"
        COUNTRY = "country", "Mostly country roads"

    roads_key = models.CharField(
        max_length=160, blank=True, help_text="Which prepared extract: its content's SHA-256 and the engine."
    )
    roads_name = models.CharField(max_length=120, blank=True, help_text="The extract's file name.")
    use_roads = models.BooleanField(
        "use the prepared roads",
        default=True,
        db_default=True,
        help_text="Turn it off where they are those of another place: drives then come from the road server, or "
        "are estimated. Turn it on again at any time.",
    )
    roads_between = models.CharField(
        "roads between the buildings",
        max_length=8,
        choices=RoadsBetween,
        default="",
        db_default="",
        blank=True,
        help_text="Only for drives that are estimated: country roads are quicker.",
    )
    drive_percentile = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(50), MaxValueValidator(99)],
        help_text="Plan with the minutes that this many drives of a hundred don't exceed, such as 80. "
        "If empty, the typical drive (the median).",
    )
    tile_url = models.CharField(
        "address of map tiles",
        default="",
        db_default="",
        max_length=300,
        blank=True,
        validators=[validate_tile_url],
        help_text="With {z}, {x}, {y} where zoom, column and row belong; empty: nothing is loaded from elsewhere.",
    )
    tile_attribution = models.CharField(
        "whose map it is",
        default="",
        db_default="",
        max_length=200,
        blank=True,
        help_text="Shown below the map, in the words that its owner asks for.",
    )
    look_up_addresses = models.BooleanField(
        default=False, help_text="Addresses of buildings may be sent to the service that the server names."
    )

    objects = ScopedQuerySet["TravelChoices"].as_manager()

    class Meta:
        verbose_name_plural = "travel choices"
        constraints = [models.UniqueConstraint(fields=["district"], name="travel_choices_once")]

    def __str__(self) -> str:
        return f"Travel choices of {self.district}"

    @property
    def roads_in_use(self) -> str:
        """The key of the prepared extract, empty where there is none or it is turned off."""
        return self.roads_key if self.use_roads else ""

    def clean(self) -> None:
        """A map from elsewhere says whose it is."""
        if self.tile_url and not self.tile_attribution:
            raise ValidationError(
                {"tile_attribution": "Say whose map it is, in the words its owner asks for."}, code="missing"
            )


class FoundPlaces(DistrictRow):
    """What a service answered for an address, kept so that it is asked once."""

    service = models.CharField(max_length=40)
    address = models.CharField(max_length=200, help_text="As it was sent.")
    places = models.JSONField(default=list, help_text="Each with words, latitude, longitude.")
    asked_at = models.DateTimeField(auto_now_add=True)

    objects = ScopedQuerySet["FoundPlaces"].as_manager()

    class Meta:
        verbose_name_plural = "found places"
        constraints = [
            models.UniqueConstraint(fields=["district", "service", "address"], name="found_places_once"),
        ]

    def __str__(self) -> str:
        return self.address
