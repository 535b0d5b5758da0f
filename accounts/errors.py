"""The one error that services raise for a person to read.

Pages and the API each map it once (config.error_pages, config.api_errors). Broken field rules stay Django's own
`ValidationError`, mapped in the same places.
"""

PROBLEM = "application/problem+json"
"""The media type of an error of the API (RFC 9457)."""


class ApplicationError(Exception):
    """Something was asked that can't be done as asked.

    `message` says what is wrong and how to fix it, for the person at the page. It names
    no student but those whom that person may see, and is never logged.
    `code` is stable for programs. `status` is the HTTP status.
    """

    def __init__(self, message: str, *, code: str = "refused", status: int = 409) -> None:
        super().__init__(message)
        self.message = message
        self.code = code
        self.status = status
