"""What a worker does with steps, here and now."""

from jobs.models import Job
from jobs.runner import run_job


def steps_done() -> None:
    """Work every step that waits."""
    for pk in Job.objects.filter(kind="long_step", state=Job.State.WAITING).values_list("pk", flat=True):
        assert run_job(pk)
