"""Times of day as minutes after local midnight."""

MINUTES_PER_DAY = 24 * 60


def clock(minute: int) -> str:
    """A time of day as a school's clock shows it: 590 is "9:50", 785 is "1:05"."""
    return f"{(minute // 60 - 1) % 12 + 1}:{minute % 60:02d}"
