"""Which road engine answers for a district, and what is said where none can.

The district's own prepared extract first, then the server that ROAD_SERVICE_URL names. One that fails is passed
over with a sentence; where all fail or there is none, the caller estimates.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from django.conf import settings
from django.core.cache import cache
from django.core.exceptions import ImproperlyConfigured

from accounts.models import District
from travel.roads.base import Point, RoadAnswer, RoadEngine, RoadError
from travel.roads.http_base import Server
from travel.roads.models import TravelChoices
from travel.roads.osrm_engine import OsrmEngine
from travel.roads.osrm_http import OsrmServer
from travel.roads.prepare import LIST_NAME
from travel.roads.valhalla_http import ValhallaServer

SERVER_KINDS: dict[str, Callable[[Server], RoadEngine]] = {"osrm": OsrmServer, "valhalla": ValhallaServer}
SILENT = "road-server-silent:"
SILENT_SECONDS = 30
INSTEAD = "Drive times are estimated for now."


@dataclass(frozen=True, slots=True)
class RoadWord:
    """What roads have to say: an answer, or None where nobody could be asked, and sentences about why not."""

    answer: RoadAnswer | None
    warnings: tuple[str, ...] = ()


def roads_word(choices: TravelChoices | None, points: Sequence[Point]) -> RoadWord:
    """Ask the district's sources one after the other until one answers."""
    warnings: list[str] = []
    for ask in (_ask_prepared, _ask_server):
        try:
            answer = ask(choices, points)
        except RoadError as error:
            warnings.append(f"{error.message} {error.remedy} {INSTEAD}")
        else:
            if answer is not None:
                return RoadWord(answer, tuple(warnings))
    return RoadWord(None, tuple(warnings))


def district_engine(district: District) -> OsrmEngine | None:
    """The engine on the district's prepared extract, for ways on a map; None if nothing is prepared.

    Raises `RoadError` if what was prepared can't be used.
    """
    return _prepared(TravelChoices.objects.filter(district=district).first())


def _prepared(choices: TravelChoices | None) -> OsrmEngine | None:
    if choices is None or not choices.roads_key:
        return None
    roads_dir = Path(settings.ROADS_DIR)
    listed = roads_dir / choices.roads_key / LIST_NAME
    stamp = listed.stat().st_mtime_ns if listed.is_file() else 0
    return _loaded(roads_dir, choices.roads_key, stamp)


@lru_cache(maxsize=4)
def _loaded(roads_dir: Path, key: str, stamp: int) -> OsrmEngine:
    """Loaded once a process; files that were prepared again (another `stamp`) are loaded again."""
    del stamp
    return OsrmEngine(roads_dir, key)


def _ask_prepared(choices: TravelChoices | None, points: Sequence[Point]) -> RoadAnswer | None:
    engine = _prepared(choices)
    return None if engine is None else engine.answer(points)


def _ask_server(choices: TravelChoices | None, points: Sequence[Point]) -> RoadAnswer | None:
    """A server that just didn't answer is left alone for a while, so that not every page waits for it."""
    del choices
    url = settings.ROAD_SERVICE_URL
    if not url:
        return None
    silent = cache.get(f"{SILENT}{url}")
    if silent is not None:
        raise RoadError(*silent)
    try:
        return _asked(url, settings.ROAD_SERVICE_KIND).answer(points)
    except RoadError as error:
        cache.set(f"{SILENT}{url}", (error.message, error.remedy), SILENT_SECONDS)
        raise


@lru_cache(maxsize=4)
def _asked(url: str, kind: str) -> RoadEngine:
    """One pool of connections a server."""
    if kind not in SERVER_KINDS:
        raise ImproperlyConfigured(f"ROAD_SERVICE_KIND is {kind!r}; it must be one of {', '.join(SERVER_KINDS)}.")
    return SERVER_KINDS[kind](Server(url))
