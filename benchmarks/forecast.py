"""What the forecast says beside what happens, in simulated districts of both kinds.

Run: ``python -m benchmarks.forecast`` (``--districts 200 --seed 1``). One kind has students whose rates of missed
sessions differ, the other misses that come in runs. For each it prints, by tenths of the chance said, how often
services ended short; the cases said at 7 to 13 %; and how often the reserve told was enough. The next lines say the
same of a forecast that takes one rate as known and every session by itself. The last ones: how often a term says
that a service is likely behind at the end, and how often it then is, by how much of its reserve has room.
"""

import argparse
import sys
from pathlib import Path

import numpy as np

if __name__ == "__main__" and not __package__:
    # Run as a script, Python looks for modules beside the script only.
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tests.caseload.forecast_districts import KINDS, Told, told_of
from tests.schedule.terms.behind import ROOM, terms_of


def table(told: Told) -> list[str]:
    """Said beside happened, by tenths."""
    lines = [f"{'said':>12} {'mean said':>10} {'happened':>10} {'cases':>8}"]
    said, happened = (np.array(column) for column in zip(*told.every, strict=True))
    for low in range(10):
        inside = (said >= low / 10) & (said < (low + 1) / 10)
        if inside.any():
            band = f"{10 * low}-{10 * low + 10} %"
            lines.append(
                f"{band:>12} {said[inside].mean():>10.1%} {happened[inside].mean():>10.1%} {inside.sum():>8}"
            )
    return lines


def summary(told: Told) -> list[str]:
    """The figures that the tests hold."""
    said, happened = np.mean(told.said), np.mean(told.happened)
    return [
        f"said at 7 to 13 % ({len(told.said)} cases): {said:.1%} said, {happened:.1%} happened",
        f"reserve enough: {np.mean(told.enough):.1%}, {np.mean(told.reserves):.1f} make-ups on average",
        f"rate between its ends: {np.mean(told.within):.1%} (said: 80 %)",
    ]


def behind(kind: str, *, districts: int, seed: int) -> list[str]:
    """What terms say of services beside what happens, by the room that their weeks have."""
    lines = [f"{'room':>6} {'services':>9} {'said behind':>12} {'mean said':>10} {'happened':>9} {'of others':>10}"]
    found = list(terms_of(kind, districts=districts, seed=seed))
    for room in ROOM:
        mine = [one for one in found if one.room == room]
        said, others = [one for one in mine if one.said], [one for one in mine if not one.said]
        chance, came, rest = (
            f"{np.mean(values):.0%}" if values else "-"
            for values in (
                [one.chance for one in said], [one.behind for one in said], [one.behind for one in others]
            )
        )  # fmt: skip
        lines.append(f"{room:>6.0%} {len(mine):>9} {len(said):>12} {chance:>10} {came:>9} {rest:>10}")
    return lines


def main() -> None:
    """Print both kinds."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--districts", type=int, default=80)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    for kind in KINDS:
        told = told_of(kind, districts=asked.districts, seed=asked.seed)
        sure = told_of(kind, districts=asked.districts, seed=asked.seed, sure=True)
        print(f"== {kind}, {asked.districts} districts", *table(told), *summary(told), sep="\n")
        print("with one known rate and sessions by themselves:", *summary(sure)[:2], sep="\n")
        print("said by terms of 18 weeks:", *behind(kind, districts=asked.districts, seed=asked.seed), "", sep="\n")


if __name__ == "__main__":
    main()
