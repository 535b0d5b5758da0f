"""Tells whoever does the work that there is some: the worker beside this process, or Celery when there is Redis."""

import logging
import threading
import uuid

from celery import current_app
from django.conf import settings
from django.db.models.functions import Now
from kombu.exceptions import OperationalError

from jobs.models import Job

logger = logging.getLogger(__name__)

#: Set when work was added, so that the worker doesn't have to wait for the next poll.
work_added = threading.Event()


def job_announce(job_id: uuid.UUID) -> bool:
    """Wake the worker, or hand the job's id to Celery; call it after the commit.

    Returns whether that worked. With Redis down it returns False and nothing is lost: the row waits, and
    `jobs.tasks.send_stale_jobs` sends it again.
    """
    if not settings.REDIS_URL:
        work_added.set()
        return True
    try:
        # By name: the task's module needs everything that this one is needed by. No retry: a person waits.
        current_app.send_task("jobs.tasks.run_job", args=[str(job_id)], retry=False)
    except OperationalError:
        logger.warning("Job %s could not be sent now; it will be sent again.", job_id)
        return False
    Job.objects.filter(pk=job_id).update(sent_at=Now())
    return True


def job_is_unsent(job: Job) -> bool:
    """Whether a job that nobody has begun never reached Redis: no worker knows of it until the sweeper sends it."""
    never_begun = job.state == Job.State.WAITING and job.attempts == 0
    return bool(settings.REDIS_URL) and never_begun and job.sent_at is None
