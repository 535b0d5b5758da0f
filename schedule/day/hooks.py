"""What rooms above the day sheet say on Today; `schedule.apps` hands it down when the application starts."""

import datetime as dt
from collections.abc import Callable, Sequence

from accounts.models import Person

type Silent = Callable[[Person, dt.datetime], Sequence[object]]

_silent: list[Silent] = []


def silent_add(ask: Silent) -> None:
    """Register who knows of calendars that have gone silent. A second time replaces the first."""
    _silent[:] = [ask]


def silent_calendars_of(viewer: Person, now: dt.datetime) -> list[object]:
    """The viewer's calendars that nobody fetches or that can't be read, for `schedule/feeds/_silent.html`."""
    return [one for ask in _silent for one in ask(viewer, now)]
