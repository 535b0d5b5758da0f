"""Which pages and operations teams open, by the name of the address and the method: all others know no mates.

What isn't listed here shows nobody a mate's student, whatever it reads, and changes nothing of theirs. What changes
something and is listed asks its service, which asks whose it is once more.
"""

from collections.abc import Mapping

from accounts.models.mate import Mate

SEE = frozenset({"GET", "HEAD"})
SEE_AND_LOG = SEE | {"POST"}
LOG = frozenset({"POST"})

OPENED: Mapping[str, frozenset[str]] = {
    # Students, read only.
    "student_list": SEE,
    "student_detail": SEE,
    "goal_list": SEE,
    "goal_detail": SEE,
    "student_ledger": SEE,
    "log_entry": SEE,
    # Published weeks.
    "week": SEE,
    "week_version": SEE,
    "week_print": SEE,
    # A mate's sessions: only where the team shares the log.
    "log": SEE,
    "log_session": SEE_AND_LOG,
    "log_correct": SEE_AND_LOG,
    "log_undo": LOG,
    "day_mark": LOG,
    # Their days, and the data on their goals: the same, and only mates who share the log (LOGS_ONLY).
    "day": SEE,
    "day_of": SEE,
    "class_hour": SEE,
    "load_list": SEE,
    "rotation": SEE,
    "data_take": SEE_AND_LOG,
    "data_undo": LOG,
    "data_restore": LOG,
    # The same in the API.
    "api:student-list": SEE,
    "api:student-detail": SEE,
    "api:plan-list": SEE,
    "api:plan-detail": SEE,
    "api:service_line-list": SEE,
    "api:service_line-detail": SEE,
    "api:enrollment-list": SEE,
    "api:enrollment-detail": SEE,
    "api:hold-list": SEE,
    "api:hold-detail": SEE,
    "api:support-list": SEE,
    "api:support-detail": SEE,
    "api:caution-list": SEE,
    "api:caution-detail": SEE,
    "api:care": SEE,
    "api:week-list": SEE,
    "api:week-detail": SEE,
    "api:goal-list": SEE,
    "api:goal-detail": SEE,
    "api:goal-says": SEE,
    "api:data_point-list": SEE_AND_LOG,
    "api:data_point-undo": LOG,
    "api:data_point-restore": LOG,
    "api:data_point-detail": SEE,
    "api:ledger": SEE,
    "api:log_entry-list": SEE,
    "api:log_entry-detail": SEE,
    "api:log_entry-correct": LOG,
    "api:session_log": LOG,
    "api:day_mark": LOG,
    "api:day": SEE,
    "api:class_hours": SEE,
    "api:load_list": SEE,
    "api:log_undo": LOG,
}
"""What isn't here is a teacher's own: attention, reports, files, calendars, the clock of a class hour that runs."""

LOGS_ONLY = frozenset(
    {"day", "day_of", "day_mark", "class_hour", "load_list", "rotation", "data_take", "data_undo", "data_restore",
     "api:day", "api:day_mark", "api:class_hours", "api:load_list", "api:data_point-undo",
     "api:data_point-restore"}
)  # fmt: skip
"""Of those, what knows only mates who share the log: days, and taking data."""


def known_mates(mates: tuple[Mate, ...], name: str, method: str | None) -> tuple[Mate, ...]:
    """Of somebody's mates those whom a request knows, by its address and its method."""
    if not opens(name, method):
        return ()
    return tuple(one for one in mates if one.logs) if name in LOGS_ONLY else mates


def opens(name: str, method: str | None) -> bool:
    """Whether teams open an address for a method."""
    return method in OPENED.get(name, frozenset())
