"""Times of a day as pairs of minutes after midnight: what meets, what is joined, what lies between. Pure."""

from collections.abc import Iterable, Iterator, Sequence

from schedule.calendar.bells import MINUTES_IN_DAY

type Span = tuple[int, int]


def overlap(one: Span, other: Span) -> bool:
    """Whether two spans share a minute."""
    return one[0] < other[1] and other[0] < one[1]


def most_at_once(spans: Sequence[Span], within: Span) -> int:
    """How many of the spans share a minute within a time, at most."""
    moments = [within[0], *(start for start, _ in spans if within[0] < start < within[1])]
    return max(sum(start <= at < end for start, end in spans) for at in moments)


def joined(spans: Iterable[Span]) -> tuple[Span, ...]:
    """Spans that touch or overlap, made one; in order."""
    whole: list[Span] = []
    for start, end in sorted(spans):
        if whole and start <= whole[-1][1]:
            whole[-1] = (whole[-1][0], max(whole[-1][1], end))
        else:
            whole.append((start, end))
    return tuple(whole)


def gaps(spans: Iterable[Span]) -> Iterator[Span]:
    """The times of a day outside some spans, from midnight to midnight; the spans are joined and in order."""
    at = 0
    for start, end in (*spans, (MINUTES_IN_DAY, MINUTES_IN_DAY)):
        if at < start:
            yield at, start
        at = end
