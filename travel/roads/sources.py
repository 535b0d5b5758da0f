"""Which road engine answers for a district, and what is said where none can.

The district's own prepared extract first, then the server that ROAD_SERVICE_URL names, for the pairs that are still
open. One that fails is passed over with a sentence; what nobody answers, the caller estimates.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from django.conf import settings
from django.core.cache import cache
from django.core.exceptions import ImproperlyConfigured

from accounts.models import District
from travel.roads.answer import RoadAnswer, RoadEngine
from travel.roads.base import Leg, Point, RoadError
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

type Pair = tuple[int, int]


@dataclass(frozen=True, slots=True)
class RoadWord:
    """What roads have to say of some points: drives by the indexes of each pair, all answers, and sentences about
    who could not be asked."""

    legs: Mapping[Pair, Leg]
    answers: tuple[RoadAnswer, ...] = ()
    warnings: tuple[str, ...] = ()


def roads_word(choices: TravelChoices | None, points: Sequence[Point]) -> RoadWord:
    """Ask the district's sources one after the other, each for what is still open, until nothing is."""
    size = len(points)
    warnings: list[str] = []
    answers: list[RoadAnswer] = []
    for ask in (_ask_prepared, _ask_server):
        if answers and len(answers[-1].legs) == size * (size - 1):
            break
        try:
            answer = ask(choices, tuple(points))
        except RoadError as error:
            warnings.append(f"{error.message} {error.remedy} {INSTEAD}")
        else:
            answers += [] if answer is None else [answer]
    return RoadWord(_together(answers), tuple(answers), tuple(warnings))


def _together(answers: Sequence[RoadAnswer]) -> Mapping[Pair, Leg]:
    """The drives of the first that has one."""
    if not answers:
        return {}
    if len(answers) == 1:
        return answers[0].legs
    return {**answers[1].legs, **answers[0].legs}


def district_engine(district: District) -> OsrmEngine | None:
    """The engine on the district's prepared extract, for ways on a map; None if nothing is prepared or it is off.

    Raises `RoadError` if what was prepared can't be used.
    """
    found = _prepared(TravelChoices.objects.filter(district=district).first())
    return None if found is None else _loaded(*found)


type _Key = tuple[Path, str, int]


def _prepared(choices: TravelChoices | None) -> _Key | None:
    """Where the district's extract lies, and when it was made."""
    if choices is None or not choices.roads_in_use:
        return None
    roads_dir = Path(settings.ROADS_DIR)
    try:
        stamp = (roads_dir / choices.roads_key / LIST_NAME).stat().st_mtime_ns
    except OSError:
        stamp = 0  # loading says what is wrong
    return roads_dir, choices.roads_key, stamp


@lru_cache(maxsize=4)
def _loaded(roads_dir: Path, key: str, stamp: int) -> OsrmEngine:
    """Loaded once a process; files that were prepared again (another `stamp`) are loaded again."""
    del stamp
    return OsrmEngine(roads_dir, key)


@lru_cache(maxsize=16)
def _answered(prepared: _Key, points: tuple[Point, ...]) -> RoadAnswer:
    """The same roads say the same of the same points: asked, and held against what a drive can be, once."""
    return _loaded(*prepared).answer(points)


def _ask_prepared(choices: TravelChoices | None, points: tuple[Point, ...]) -> RoadAnswer | None:
    prepared = _prepared(choices)
    return None if prepared is None else _answered(prepared, points)


def _ask_server(choices: TravelChoices | None, points: tuple[Point, ...]) -> RoadAnswer | None:
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
