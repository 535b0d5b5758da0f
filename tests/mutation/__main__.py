"""`python -m tests.mutation MODULE_OR_AREA [FUNCTION ...]`: what it finds goes to standard output.

Exit code 0: at most one mutant in twenty survives without a reason. 1: more do, or a reason speaks of no survivor.
2: it could not be found out.
"""

import argparse
import os
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

from tests.mutation.areas import AREAS, Area, AreaError, Reason, asked_for, read_areas
from tests.mutation.mutants import Mutant, mutants_of, survivors_in_words
from tests.mutation.running import Outcome, TestsFailed, Trial, outcome_of, prepare

ONE_IN = 20


def _say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def main(arguments: Sequence[str]) -> int:
    """Run what the arguments ask for."""
    asked = _parser().parse_args(arguments)
    try:
        areas = read_areas(asked.areas)
        if asked.module is None:
            for area in areas:
                _say(f"{area.name}: {', '.join(area.tests)}")
            return 0
        chosen = asked_for(areas, asked.module)
        return max([_run(module, area, frozenset(asked.function)) for module, area in chosen])
    except (AreaError, TestsFailed) as error:
        _say(str(error))
        return 2


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="script/mutants", description="Mutation run of a core module.")
    parser.add_argument("module", nargs="?", help="a module or an area; without it all are listed")
    parser.add_argument("function", nargs="*", help="only these functions (a method is Class.method)")
    parser.add_argument("--areas", type=Path, default=AREAS, help="the folder of the tables")
    return parser


def _run(module: str, area: Area, functions: frozenset[str]) -> int:
    trial = prepare(module, area.tests[module])
    source = trial.path.read_bytes()
    mutants = [one for one in mutants_of(source) if not functions or one.function in functions]
    _say(f"{module}: {len(mutants)} mutants, tests take {trial.seconds:.1f} s: {' '.join(trial.tests)}")
    outcomes = dict(_outcomes(trial, source, mutants))
    survivors = [one for one, outcome in outcomes.items() if outcome is Outcome.SURVIVED]
    reasons = [one for one in area.reasons if one.module == module]
    explained = [one for one in survivors if _reason_for(one, source, reasons)]
    left = [one for one in survivors if one not in explained]
    for words in survivors_in_words(source, left, os.path.relpath(trial.path)):
        _say(words)
    stale = [] if functions else list(_stale(reasons, explained, source))
    for words in stale:
        _say(words)
    counts = Counter(outcomes.values())
    _say(
        f"{module}: {len(mutants)} mutants, {counts[Outcome.KILLED]} killed, {counts[Outcome.TIMEOUT]} ended by "
        f"timeout, {len(survivors)} survived, {len(explained)} of them with a reason."
    )
    return 1 if stale or len(left) * ONE_IN > len(mutants) else 0


def _outcomes(trial: Trial, source: bytes, mutants: Sequence[Mutant]) -> Iterator[tuple[Mutant, Outcome]]:
    for number, one in enumerate(mutants, start=1):
        yield one, outcome_of(trial, one.applied(source))
        if number % 50 == 0:
            sys.stderr.write(f"{trial.module}: {number} of {len(mutants)}\n")


def _line(mutant: Mutant, source: bytes) -> str:
    return source.splitlines()[mutant.line - 1].decode()


def _reason_for(mutant: Mutant, source: bytes, reasons: Sequence[Reason]) -> Reason | None:
    text = _line(mutant, source)
    return next((one for one in reasons if one.covers(mutant, text)), None)


def _stale(reasons: Sequence[Reason], explained: Sequence[Mutant], source: bytes) -> Iterator[str]:
    """A change that has a reason to survive and didn't, or is no more."""
    for reason in reasons:
        for change in reason.changes:
            survived = any(one.change == change and reason.covers(one, _line(one, source)) for one in explained)
            if not survived:
                yield f"No survivor: {change} in {reason.function}, {reason.line!r}. Take its reason out."


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
