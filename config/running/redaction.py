"""Keeps secret addresses out of logs and error reports: of feeds, packets and invitations, for choosing a password,
and what a provider of sign-ins hands over.

The filter is at the log handlers of the settings, and at the access logs of servers that bring handlers of
their own (`access_logs_redact`); the report class writes what a broken page is reported with.
"""

import logging
import re

from django.utils.safestring import SafeString
from django.views.debug import ExceptionReporter

# The API's own addresses hold numbers only.
SECRET = re.compile(r"((?<!/api/1)/(?:feeds|packets)/|/(?:password/link|invitation)/[^/\s]+/)[^/\s\"'?&<>\\]+")
PROVIDED = re.compile(r"(/sign-in/provider/back/\?)[^\s\"'<>\\]+")
REPLACED = r"\1[address]"
ACCESS_LOGS = ("gunicorn.access", "uvicorn.access", "django.server", "waitress")


def without_addresses(text: str) -> str:
    """The text with the secret part of each such address taken out."""
    return PROVIDED.sub(REPLACED, SECRET.sub(REPLACED, text))


class RedactingFilter(logging.Filter):
    """Takes addresses out of a record before any handler writes it, its traceback included."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Rewrite the message; always lets it pass."""
        # Django's own lines carry the request, which a handler may write with its address.
        vars(record).pop("request", None)
        message = record.getMessage()
        redacted = without_addresses(message)
        if redacted != message:
            record.msg, record.args = redacted, ()
        if record.exc_info and not record.exc_text:
            record.exc_text = logging.Formatter().formatException(record.exc_info)
        if record.exc_text:
            record.exc_text = without_addresses(record.exc_text)
        return True


class RedactingReporter(ExceptionReporter):
    """Error reports without addresses of feeds, in the mail as on the page (DEFAULT_EXCEPTION_REPORTER)."""

    def get_traceback_html(self) -> SafeString:
        """As a page."""
        return SafeString(without_addresses(super().get_traceback_html()))

    def get_traceback_text(self) -> SafeString:
        """As text."""
        return SafeString(without_addresses(super().get_traceback_text()))


def access_logs_redact() -> None:
    """Put the filter at the access logs of servers; twice has no effect."""
    for name in ACCESS_LOGS:
        logger = logging.getLogger(name)
        if not any(isinstance(one, RedactingFilter) for one in logger.filters):
            logger.addFilter(RedactingFilter())
