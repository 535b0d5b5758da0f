"""Which function does which kind of job, and which functions ask for work that comes around by the clock.

An app that has background work keeps its handlers in a module named ``job_handlers``; they are found at start.
"""

from collections.abc import Callable

from jobs.context import JobContext

Handler = Callable[[JobContext], None]
Asker = Callable[[], None]

_handlers: dict[str, Handler] = {}
_askers: dict[str, Asker] = {}


def _entered[F: Callable[..., None]](among: dict[str, F], name: str, what: str) -> Callable[[F], F]:
    """A decorator that enters a function by its name. Raises `ValueError` where another one has that name."""

    def enter(function: F) -> F:
        if among.setdefault(name, function) is not function:
            message = f"Two {what} {name}"
            raise ValueError(message)
        return function

    return enter


def job_handler(kind: str) -> Callable[[Handler], Handler]:
    """Register the decorated function for a kind of job. It may be run again after a crash: see `JobContext`."""
    return _entered(_handlers, kind, "handlers for jobs of kind")


def handler_of(kind: str) -> Handler | None:
    """The handler of a kind, if there is one."""
    return _handlers.get(kind)


def regular_work(name: str) -> Callable[[Asker], Asker]:
    """Register a function that adds the jobs that are due, if any; it is called every minute by each worker.

    Several workers may call it at once, so what is due must say so in the database.
    """
    return _entered(_askers, name, "functions ask for regular work named")


def ask_for_regular_work() -> None:
    """Let every registered function add what is due."""
    for asker in _askers.values():
        asker()
