"""Forms about the district itself."""

from accounts.forms import RecordForm
from accounts.models import District
from travel.roads.models import TravelChoices
from travel.roads.tiles import EXAMPLE


class DistrictForm(RecordForm):
    """Its name, state and time zone."""

    class Meta:
        model = District
        fields = ["name", "state", "time_zone"]
        help_texts = {
            "state": "Two letters, such as NY; used to look up public holidays.",
            "time_zone": "Such as America/New_York. Bells and weeks are local to it and stay as they are.",
        }


class TileSourceForm(RecordForm):
    """From where the pictures below a map are loaded."""

    class Meta:
        model = TravelChoices
        fields = ["tile_url", "tile_attribution"]
        help_texts = {"tile_url": f"Such as {EXAMPLE}. Leave it empty and nothing is loaded from elsewhere."}
