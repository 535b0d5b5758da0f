"""What engines say about drives between buildings, before anything that is known of the teacher.

Roads first. A pair that they can't answer is estimated, and a sentence says so by the building that is to blame.
What has to be measured for those sentences is measured once for the same places.
"""

from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain, permutations
from statistics import median

import numpy as np

from accounts.models import District
from travel.drives.lazy import Lazily
from travel.places.likely import Placed, far_words
from travel.places.models import Building
from travel.places.selectors import placed_of
from travel.roads.answer import FarPoint, RoadEngine, pairs_without, sphere_meters
from travel.roads.base import METERS_A_MILE, Leg, Point
from travel.roads.geodesic import estimate_leg, straight_meters
from travel.roads.models import TravelChoices
from travel.roads.sources import RoadWord, roads_word

# Nearer than this, two buildings share a parking lot, or one has the other's coordinates by mistake.
ONE_PLACE_METERS = 30
SPHERE_OFF = 0.02
"""More than a sphere of the mean radius can be wrong (0.6 %)."""
COUNTRY_MILES = 4
"""Schools whose nearest neighbor is so far away in the middle (median) suggest country roads. Common practice, no
source; it only decides whether the district is asked."""
FEW_PLACES = 4

type PairId = tuple[int, int]


@dataclass(frozen=True, slots=True)
class BaseLegs:
    """Drives between the buildings that stand somewhere, by their ids, and sentences about them."""

    legs: Mapping[PairId, Leg]
    warnings: tuple[str, ...] = ()


def base_legs(
    rows: Mapping[int, Building], choices: TravelChoices | None, own: Container[PairId] = frozenset()
) -> BaseLegs:
    """What the roads say, and the estimate where they have no answer; of pairs in `own` nothing has to be said."""
    placed = placed_of(rows.values())
    ids, spots = tuple(placed), tuple(placed.values())
    points = tuple(spot.point for spot in spots)
    at = {pk: index for index, pk in enumerate(ids)}
    word = roads_word(choices, points) if len(points) > 1 else RoadWord({})
    country = choices is not None and choices.roads_between == TravelChoices.RoadsBetween.COUNTRY

    def find(pair: PairId) -> Leg | None:
        one, other = at.get(pair[0]), at.get(pair[1])
        if one is None or other is None or one == other:
            return None
        found = word.legs.get((one, other))
        return found or estimate_leg(straight_meters(points[one], points[other]), country=country)

    still_open = _open_words(word, ids, spots, own) if word.answers else ()
    warnings = (*word.warnings, *still_open, *_place_words(spots))
    if choices is None or not choices.roads_between:
        warnings += _country_question(points) if not _is_whole(word, len(points)) else ()
    return BaseLegs(Lazily(lambda: permutations(ids, 2), find), warnings)


def _is_whole(word: RoadWord, size: int) -> bool:
    """Whether the roads answer for every pair."""
    return len(word.legs) == size * (size - 1)


def _open_words(
    word: RoadWord, ids: Sequence[int], spots: Sequence[Placed], own: Container[PairId]
) -> Iterator[str]:
    """Sentences on pairs that roads were asked for and are estimated all the same."""
    if _is_whole(word, len(spots)):
        return
    still = [pair for pair in pairs_without(word.legs, len(spots)) if (ids[pair[0]], ids[pair[1]]) not in own]
    far = {point.index: point for answer in word.answers for point in answer.far}
    for index in sorted(set(chain.from_iterable(still)) & far.keys()):
        yield off_road_words(spots[index].name, far[index])
    yield from _near_words(word, [pair for pair in still if far.keys().isdisjoint(pair)], spots)


def _near_words(word: RoadWord, near: Sequence[PairId], spots: Sequence[Placed]) -> Iterator[str]:
    """Sentences on pairs whose ends are both near a road: numbers out of bounds, or no way between them."""
    out_of_bounds = {pair for answer in word.answers for pair in answer.refused} & set(near)
    yield from _pair_words(
        sorted(out_of_bounds),
        spots,
        "The numbers from the roads for {pairs} are out of all bounds, so that is estimated. Check the road "
        "server, or prepare the roads again.",
    )
    yield from _pair_words(
        sorted(set(near) - out_of_bounds),
        spots,
        "No road was found for {pairs}, so that is estimated. Check the coordinates of both, or enter your own "
        "minutes.",
    )


def _pair_words(pairs: Sequence[tuple[int, int]], spots: Sequence[Placed], words: str) -> Iterator[str]:
    """One sentence on some drives: the first by name, the others by their number."""
    if pairs:
        first = f"the drive from {spots[pairs[0][0]].name} to {spots[pairs[0][1]].name}"
        more = f" and {len(pairs) - 1} other drive{'s' if len(pairs) > 2 else ''}" if len(pairs) > 1 else ""
        yield words.format(pairs=f"{first}{more}")


def off_road_words(name: str, far: FarPoint) -> str:
    """One sentence a building, the same for all its pairs."""
    where = "has no road near it" if far.meters is None else f"lies {far.meters:,} meters from the nearest road"
    return (
        f"{name} {where} on the map of roads, so its drives are estimated. Correct its coordinates; if the map "
        "ends before it, have a larger extract prepared; or enter your own minutes."
    )


@dataclass(frozen=True, slots=True)
class ExtractFit:
    """How an extract fits a district: its buildings with coordinates, a sentence for each that no road comes near,
    and how many drives between the others have no road."""

    buildings: int
    off_road: tuple[str, ...]
    without_road: int

    @property
    def reached(self) -> int:
        """Buildings that a road comes near."""
        return self.buildings - len(self.off_road)


def extract_fit(district: District, engine: RoadEngine) -> ExtractFit:
    """Hold an extract against the buildings that a district has now."""
    spots = tuple(placed_of(Building.objects.filter(district=district)).values())
    answer = engine.answer([spot.point for spot in spots])
    off_road = tuple(off_road_words(spots[far.index].name, far) for far in answer.far)
    reached = len(spots) - len(off_road)
    return ExtractFit(len(spots), off_road, reached * (reached - 1) - len(answer.legs))


@lru_cache(maxsize=64)
def _place_words(spots: tuple[Placed, ...]) -> tuple[str, ...]:
    """A sentence for each two buildings that stand at one place, and for each that lies far from all others."""
    one_place = (
        f"{one.name} and {other.name} are at the same place (less than {ONE_PLACE_METERS} meters apart). If they "
        "don't share a campus, correct the coordinates of one of them."
        for one, other in _at_one_place(spots)
    )
    return (*one_place, *far_words(dict(enumerate(spots))))


def _at_one_place(spots: Sequence[Placed]) -> Iterator[tuple[Placed, Placed]]:
    """Each two that stand nearer than a parking lot."""
    meters = sphere_meters([spot.point for spot in spots])
    for i, j in np.argwhere(np.triu(meters < (1 + SPHERE_OFF) * ONE_PLACE_METERS, 1)).tolist():
        # Only what a sphere puts near the limit needs exact measuring.
        surely = meters[i, j] < (1 - SPHERE_OFF) * ONE_PLACE_METERS
        if surely or straight_meters(spots[i].point, spots[j].point) < ONE_PLACE_METERS:
            yield spots[i], spots[j]


@lru_cache(maxsize=64)
def _country_question(points: tuple[Point, ...]) -> tuple[str, ...]:
    """What to ask where estimates count, nobody has said what the roads are like, and the schools lie far apart."""
    miles = neighbor_miles(points)
    if len(points) < FEW_PLACES or miles < COUNTRY_MILES:
        return ()
    question = (
        f"Your buildings lie about {miles:.0f} miles from their nearest neighbors, and drives between them are "
        "estimated as in a town. If the roads between them are country roads, have your coordinator say so under "
        "District, Drive times: drives then take about a third less."
    )
    return (question,)


def neighbor_miles(points: Sequence[Point]) -> float:
    """How far the nearest other place is, in a straight line, in the middle (median) of all; 0 for fewer than 2."""
    if len(points) < 2:
        return 0.0
    meters = sphere_meters(points).copy()
    np.fill_diagonal(meters, np.inf)
    return float(median(meters.min(axis=1).tolist())) / float(METERS_A_MILE)
