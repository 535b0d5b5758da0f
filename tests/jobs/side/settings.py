"""Settings of the side processes: the tests' settings, the side app, and waits short enough for a test."""

from tests.settings import *  # noqa: F403 -- the side processes run on the tests' settings
from tests.settings import INSTALLED_APPS, env

INSTALLED_APPS = [*INSTALLED_APPS, "tests.jobs.side"]
WEB_STARTS_WORKER = env.bool("WEB_STARTS_WORKER", default=False)
JOBS_LEASE_SECONDS = 3
JOBS_SEND_AGAIN_SECONDS = 3
CELERY_BEAT_SCHEDULE = {"send stale jobs again": {"task": "jobs.tasks.send_stale_jobs", "schedule": 1.0}}
