"""What each line of the log says besides its words: the id by which the lines of a request belong together."""

import logging
from contextvars import ContextVar

from config.running.away import cause_of

request_id: ContextVar[str] = ContextVar("request_id", default="-")


class RequestIdFilter(logging.Filter):
    """Puts the id of the request at hand on each line, and a known cause in one line in place of its traceback."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Add to the record; always lets it pass."""
        record.request_id = request_id.get()
        error = record.exc_info[1] if record.exc_info else None
        if (cause := cause_of(error)) is not None:
            record.msg, record.args = f"{record.getMessage()} ({cause})", ()
            record.exc_info, record.exc_text = None, None
        return True
