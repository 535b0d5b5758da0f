"""Notes whose days may have changed, whenever a feed may show something else (connected by schedule.apps)."""

from typing import Any

from schedule.feeds.signals import shown_changed
from schedule.notices.services.watching import district_touch, teacher_touch


def _note(sender: object, *, district_id: int | None, teacher_id: int | None, **told: Any) -> None:
    if district_id is None:
        return
    if teacher_id is None:
        district_touch(district_id=district_id)
    else:
        teacher_touch(teacher_id=teacher_id)


def connect() -> None:
    """Listen; twice has no effect."""
    shown_changed.connect(_note, dispatch_uid="notices")
