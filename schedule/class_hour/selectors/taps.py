"""The taps on the clock of a session that runs."""

import datetime as dt
import uuid

from schedule.class_hour.data import RunTapView
from schedule.class_hour.models import RunTap


def taps_of(uid: uuid.UUID, date: dt.date) -> tuple[RunTapView, ...]:
    """Those of a session that the caller has found for its viewer, in the order of their moments."""
    rows = RunTap.objects.filter(session_uid=uid, date=date)
    return tuple(RunTapView(one.client_id, one.kind, one.part, one.tapped_at) for one in rows)
