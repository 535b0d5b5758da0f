"""Which function does which kind of job, and which functions ask for work that comes round by the clock.

An app that has background work keeps its handlers in a module named ``job_handlers``; they are found at start.
"""

from collections.abc import Callable

from jobs.context import JobContext

Handler = Callable[[JobContext], None]
Asker = Callable[[], None]

_handlers: dict[str, Handler] = {}
_askers: dict[str, Asker] = {}


def job_handler(kind: str) -> Callable[[Handler], Handler]:
    """Register the decorated function for a kind of job. It may be run again after a crash: see `JobContext`."""

    def register(handler: Handler) -> Handler:
        known = _handlers.setdefault(kind, handler)
        if known is not handler:
            message = f"Two handlers for jobs of kind {kind}"
            raise ValueError(message)
        return handler

    return register


def handler_of(kind: str) -> Handler | None:
    """The handler of a kind, if there is one."""
    return _handlers.get(kind)


def regular_work(name: str) -> Callable[[Asker], Asker]:
    """Register a function that adds the jobs that are due, if any; it is called every minute by each worker.

    Several workers may call it at once, so what is due must say so in the database.
    """

    def register(asker: Asker) -> Asker:
        known = _askers.setdefault(name, asker)
        if known is not asker:
            message = f"Two functions ask for regular work named {name}"
            raise ValueError(message)
        return asker

    return register


def ask_for_regular_work() -> None:
    """Let every registered function add what is due."""
    for asker in _askers.values():
        asker()
