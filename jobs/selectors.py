"""What is asked of job rows."""

import datetime as dt
from collections.abc import Iterable

from django.db.models import Avg, Count, DurationField, ExpressionWrapper, F, Min, QuerySet

from jobs.models import Job

UNFINISHED = (Job.State.WAITING, Job.State.RUNNING)


def broken_off(district: int) -> QuerySet[Job]:
    """The jobs of a district that broke off and can be started again, the latest first."""
    broken = Job.objects.filter(district_number=district, state=Job.State.FAILED, broke_off=True)
    return broken.order_by("-ended_at", "pk")


def oldest_waiting() -> dt.datetime | None:
    """Since when the oldest job waits for a worker (UTC); None if none does."""
    waiting = Job.objects.filter(state=Job.State.WAITING)
    return waiting.order_by("created_at").values_list("created_at", flat=True).first()


def job_counts() -> Iterable[tuple[str, str, int]]:
    """How many there are, by kind and state."""
    return Job.objects.order_by("kind", "state").values_list("kind", "state").annotate(count=Count("pk"))


def job_ages() -> Iterable[tuple[str, dt.datetime]]:
    """By each unfinished state: when the oldest was added (UTC)."""
    unfinished = Job.objects.filter(state__in=UNFINISHED)
    return unfinished.order_by("state").values_list("state").annotate(since=Min("created_at"))


def job_seconds() -> Iterable[tuple[str, int, float]]:
    """By kind: how many jobs are done, and how many seconds they took together."""
    taken = ExpressionWrapper(F("ended_at") - F("started_at"), output_field=DurationField())
    done = Job.objects.filter(state=Job.State.DONE, started_at__isnull=False, ended_at__isnull=False)
    rows = done.order_by("kind").values_list("kind").annotate(count=Count("pk"), mean=Avg(taken))
    return [(kind, count, count * mean.total_seconds()) for kind, count, mean in rows]
