"""From what an engine says a drive takes to what it takes this teacher. Pure; `docs/drive-times.md` explains it.

A drive's minutes divided by the minutes that were expected are seen as lognormal, so everything here happens with
the logarithm of that ratio: 0 means "as expected". The mean of the logarithms and their variance are unknown, and
their conjugate prior (normal, scaled inverse chi-squared) says how far the engine is trusted. After Gelman and
others, *Bayesian Data Analysis*, third edition, section 3.3, and Hoff, *A First Course in Bayesian Statistical
Methods*, section 5.3. Real travel times have longer tails than a lognormal has (Susilawati, Taylor and Somenahalli
2013), so a chance near 1 is a little too good.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist, fmean, median

NORMAL = NormalDist()


@dataclass(frozen=True, slots=True)
class Belief:
    """What is believed of logarithms of ratios: their mean, as if seen `weight` times, and their variance, as if
    seen `freedom` times."""

    mean: float
    weight: float
    variance: float
    freedom: float


# An assumption of ours: an engine is off by a factor of about 1.2 either way on a pair (two engines differ that
# much from each other on the same streets), and one drive differs from the next as much: so it counts as one drive.
ENGINE = Belief(mean=0.0, weight=1.0, variance=0.2**2, freedom=4.0)

# Drives that start within an hour of the time asked for speak for it. All others together count for no more than
# three, however many there are.
NEAR_MINUTES = 60
OTHER_TIMES_WEIGHT = 3.0

# Iglewicz and Hoaglin (1993), How to Detect and Handle Outliers: a modified z-score above 3.5 is a potential one.
MODIFIED_Z = 0.6745
OUTLIER_Z = 3.5
# Taps on a phone are no better than this, so that drives which agree to the second condemn no other one.
LEAST_DEVIATION = 0.05
# Of fewer drives than this a median says too little: then only what is three times the expected or a third is held.
FEW_DRIVES = 5
FEW_LIMIT = math.log(3)

# Without any engine's word this many drives are enough to speak for themselves.
ENOUGH_ALONE = 3

# Common practice, no source: starting and arriving are each tapped to the minute.
TELLING_MINUTES = 2


@dataclass(frozen=True, slots=True)
class DriveSample:
    """A logged drive: minutes at the wheel, minutes that the engine expected at that time of day (None without an
    engine's word), and the minute after local midnight when it began."""

    minutes: float
    expected: float | None
    start: int


@dataclass(frozen=True, slots=True)
class Prediction:
    """How long the next drive takes: `middle` minutes, that half of the drives don't exceed, and the spread of the
    logarithm. `drives` were learned from, `held_back` looked like no normal drive.

    `entered`: the minutes that a teacher entered and a week is planned with; `took`: the median of the drives that
    were learned from, where there are such minutes beside it."""

    middle: float
    spread: float
    drives: int = 0
    held_back: int = 0
    entered: float | None = None
    took: float | None = None

    @property
    def differs(self) -> bool:
        """Whether the drives tell otherwise than the teacher entered: enough of them, and by enough."""
        if self.entered is None or self.took is None or self.drives < ENOUGH_ALONE:
            return False
        return abs(self.took - self.entered) >= TELLING_MINUTES

    def percentile(self, percent: float) -> float:
        """Minutes that so many of a hundred drives don't exceed."""
        return self.middle * math.exp(self.spread * NORMAL.inv_cdf(percent / 100))

    def chance_within(self, minutes: float) -> float:
        """The chance, from 0 to 1, that the drive takes no longer than so many minutes."""
        if self.middle <= 0:
            return 1.0
        if minutes <= 0:
            return 0.0
        return NORMAL.cdf(math.log(minutes / self.middle) / self.spread)


@dataclass(frozen=True, slots=True)
class Sifted:
    """Drives to learn from, as (minute of the day, logarithm of the ratio), and how many are held back."""

    kept: tuple[tuple[int, float], ...] = ()
    held_back: int = 0


def update(belief: Belief, seen: Sequence[float]) -> Belief:
    """The belief after seeing some logarithms: the conjugate update in closed form."""
    if not seen:
        return belief
    count, mean = len(seen), fmean(seen)
    weight, freedom = belief.weight + count, belief.freedom + count
    squares = (
        belief.freedom * belief.variance
        + math.fsum((one - mean) ** 2 for one in seen)
        + belief.weight * count / weight * (mean - belief.mean) ** 2
    )
    return Belief(
        mean=(belief.weight * belief.mean + count * mean) / weight,
        weight=weight,
        variance=squares / freedom,
        freedom=freedom,
    )


def spread_of(belief: Belief) -> float:
    """Standard deviation of the next logarithm: of drives, and of what isn't known of their mean."""
    return math.sqrt(belief.variance * (1 + 1 / belief.weight))


def is_outlier(one: float, among: Sequence[float]) -> bool:
    """Whether a logarithm of a ratio is held back, `among` being all of its time of day, itself included."""
    if len(among) < FEW_DRIVES:
        return abs(one) > FEW_LIMIT
    middle = median(among)
    deviation = max(median(abs(other - middle) for other in among), LEAST_DEVIATION)
    return MODIFIED_Z * abs(one - middle) / deviation > OUTLIER_Z


def sift(drives: Iterable[DriveSample]) -> Sifted:
    """Drives as logarithms of ratios; each is held against those that began at about its time of day, so that
    a rush is no outlier. Drives without an expectation are left out."""
    seen = [
        (drive.start, math.log(drive.minutes / drive.expected))
        for drive in drives
        if drive.minutes > 0 and drive.expected is not None and drive.expected > 0
    ]
    kept = tuple(
        (start, one)
        for start, one in seen
        if not is_outlier(one, [other for begun, other in seen if is_near(begun, start)])
    )
    return Sifted(kept, len(seen) - len(kept))


def predict(sifted: Sifted, expected: float, at: int | None = None) -> Prediction:
    """The next drive of a pair, in one direction.

    `expected` is the engine's minutes at the time asked for, `at` that time (minute after local midnight; None for
    no particular time, where all drives count alike).
    """
    near = [one for start, one in sifted.kept if at is None or is_near(start, at)]
    other = [one for start, one in sifted.kept if at is not None and not is_near(start, at)]
    belief = update(_no_more_than(update(ENGINE, other), OTHER_TIMES_WEIGHT), near)
    middle = expected * math.exp(belief.mean)
    return Prediction(middle, spread_of(belief), len(sifted.kept), sifted.held_back)


def predict_worst(sifted: Sifted, expected_at: Callable[[int], float], times: Iterable[int]) -> Prediction:
    """The longest prediction among some times of the day."""
    return max((predict(sifted, expected_at(at), at) for at in times), key=lambda found: found.middle)


def predict_alone(drives: Iterable[DriveSample]) -> Prediction | None:
    """The next drive where no engine has a word; None unless there are enough drives."""
    usable = [drive for drive in drives if drive.minutes > 0]
    if len(usable) < ENOUGH_ALONE:
        return None
    middle = median(drive.minutes for drive in usable)
    return predict(sift([DriveSample(drive.minutes, middle, drive.start) for drive in usable]), middle)


def own_prediction(minutes: float, drives: Iterable[DriveSample], at: int | None = None) -> Prediction:
    """How long drives really take of which a teacher entered the minutes.

    A week is planned with what was entered; whether one arrives on time is for the drives to say, with the entered
    minutes in the engine's place. `at` as for `predict`.
    """
    sifted = sift([DriveSample(drive.minutes, minutes, drive.start) for drive in drives])
    ratios = [one for _, one in sifted.kept]
    took = minutes * math.exp(median(ratios)) if ratios else None
    return replace(predict(sifted, minutes, at), entered=minutes, took=took)


def is_near(one: int, other: int) -> bool:
    """Whether two minutes of the day are near enough to speak for each other."""
    return abs(one - other) <= NEAR_MINUTES


def _no_more_than(belief: Belief, weight: float) -> Belief:
    return Belief(belief.mean, min(belief.weight, weight), belief.variance, belief.freedom)


def differing_words(prediction: Prediction, *, own: bool) -> str:
    """What drives say otherwise than was entered, as a sentence; empty where they don't. `own`: to their driver."""
    if not prediction.differs or prediction.entered is None or prediction.took is None:
        return ""
    whose, entered = ("Your", "you entered") if own else ("The", "entered are")
    took = round(prediction.took)
    return f"{whose} last {prediction.drives} drives took {took} minutes, {entered} {prediction.entered:g}."
