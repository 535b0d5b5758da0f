"""What can go wrong with background work."""


class JobError(Exception):
    """Raised by a handler that can't do what was asked.

    `message` is shown to the person who asked: plain words, how to fix it, no student's name.
    """

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message


class LeaseLostError(Exception):
    """Another worker may have the job by now: whatever this one was about to write must not be written."""


class GoOnLaterError(Exception):
    """Raised by a handler that has kept what it has: the job is given back, to be gone on with by whoever takes it.

    For work that is longer than a job may take (JOBS_LONGEST_SECONDS); it costs none of the job's attempts.
    """
