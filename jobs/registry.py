"""Which function does which kind of job.

An app that has background work keeps its handlers in a module named ``job_handlers``; they are found at start.
"""

from collections.abc import Callable

from jobs.context import JobContext

Handler = Callable[[JobContext], None]

_handlers: dict[str, Handler] = {}


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
