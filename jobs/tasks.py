"""The bridge to Celery, used when REDIS_URL is set: the same body as the thread's."""

import uuid

from celery import shared_task

from jobs.registry import ask_for_regular_work
from jobs.runner import run_job as run_one_job
from jobs.services import jobs_sweep, stale_jobs_send


@shared_task(name="jobs.tasks.run_job")
def run_job(job_id: str) -> None:
    """Run one job, unless it is over or in another worker's hands."""
    run_one_job(uuid.UUID(job_id))


@shared_task(name="jobs.tasks.send_stale_jobs")
def send_stale_jobs() -> None:
    """Take jobs back from workers that vanished, and send again what waits (Celery's beat calls this)."""
    jobs_sweep()
    stale_jobs_send()


@shared_task(name="jobs.tasks.ask_for_regular_work")
def ask_regularly() -> None:
    """Add what comes around by the clock and is due (Celery's beat calls this)."""
    ask_for_regular_work()
