"""Which days a change of something dated concerns. Pure."""

import datetime as dt

type Days = tuple[dt.date, dt.date | None]
"""First and last day, both included; None: without end."""

ONE_DAY = dt.timedelta(days=1)


def changed_days(was: Days | None, now: Days | None, *, same: bool) -> tuple[Days, ...]:
    """The days on which something holds otherwise than before; None where there was, or is, nothing.

    `same`: all but the dates is as it was; then only the days between the old and the new ends are concerned.
    """
    if was is None or now is None:
        return tuple(days for days in (was, now) if days is not None)
    last = _later(was[1], now[1])
    if not same:
        return ((min(was[0], now[0]), last),)
    found: list[Days] = []
    if was[0] != now[0]:
        found.append((min(was[0], now[0]), max(was[0], now[0]) - ONE_DAY))
    earlier = was[1] if last == now[1] else now[1]
    if was[1] != now[1] and earlier is not None:
        found.append((earlier + ONE_DAY, last))
    return tuple(found)


def _later(one: dt.date | None, other: dt.date | None) -> dt.date | None:
    return None if one is None or other is None else max(one, other)
