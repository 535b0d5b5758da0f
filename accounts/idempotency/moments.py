"""When something was tapped, told by whoever sends it later. Pure."""

import datetime as dt

AHEAD = dt.timedelta(minutes=5)
"""By how much a phone's clock may be ahead of the server's: what it says is then taken for now."""
FUTURE = "This time is in the future: the phone's clock may be wrong. Correct it and send it again."


def moment_of(told: dt.datetime | None, now: dt.datetime) -> dt.datetime:
    """When it was: as told, or now where nothing is told. Both aware.

    Raises `ValueError` with the sentence for a person if that is in the future.
    """
    if told is None:
        return now
    if told > now + AHEAD:
        raise ValueError(FUTURE)
    return min(told, now)
