"""Figures for whoever watches the program, as Prometheus reads them: counts and times, no names and no ids.

What a process sees itself, requests, is kept in its memory. Work, messages and feeds are counted in the database
when they are asked for, so that it doesn't matter which process did them.
"""

from collections.abc import Iterator

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe
from prometheus_client import CollectorRegistry, Counter, Histogram, ProcessCollector, generate_latest
from prometheus_client.core import GaugeMetricFamily, Metric, SummaryMetricFamily
from prometheus_client.exposition import CONTENT_TYPE_PLAIN_0_0_4
from prometheus_client.registry import Collector

from jobs.selectors import job_ages, job_counts, job_seconds
from schedule.feeds.selectors.figures import feed_counts
from schedule.notices.selectors.figures import notice_counts

BUCKETS = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30)
"""Seconds."""
REGISTRY = CollectorRegistry()
ProcessCollector(registry=REGISTRY)
REQUESTS = Counter("mm_requests", "Requests answered, by route.", ["method", "route", "status"], registry=REGISTRY)
SECONDS = Histogram("mm_request_seconds", "How long requests took.", ["kind"], buckets=BUCKETS, registry=REGISTRY)


def request_count(method: str, route: str, status: int, seconds: float) -> None:
    """Count a request that was answered."""
    known = method if method in {"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"} else "other"
    kind = route.partition("/")[0] if route.startswith(("api/", "feeds/")) else "pages"
    REQUESTS.labels(known, route, str(status)).inc()
    SECONDS.labels(kind).observe(seconds)


class DatabaseFigures(Collector):
    """What the database knows of work, messages and feeds."""

    def collect(self) -> Iterator[Metric]:
        """Ask it."""
        now = timezone.now()
        jobs = GaugeMetricFamily("mm_jobs", "Background work.", labels=["kind", "state"])
        for kind, state, count in job_counts():
            jobs.add_metric([kind, state], count)
        ages = GaugeMetricFamily("mm_job_oldest_seconds", "Age of the oldest unfinished.", labels=["state"])
        for state, since in job_ages():
            ages.add_metric([state], (now - since).total_seconds())
        taken = SummaryMetricFamily("mm_job_seconds", "From begin to end, of work done.", labels=["kind"])
        for kind, count, seconds in job_seconds():
            taken.add_metric([kind], count_value=count, sum_value=seconds)
        notices = GaugeMetricFamily("mm_notices", "Mails and messages to phones.", labels=["channel", "state"])
        for channel, state, count in notice_counts():
            notices.add_metric([channel, state], count)
        feeds = GaugeMetricFamily("mm_feeds", "Calendar feeds.", labels=["state"])
        for state, count in feed_counts(now):
            feeds.add_metric([state], count)
        yield from (jobs, ages, taken, notices, feeds)

    def describe(self) -> Iterator[Metric]:
        """Nothing, so that registering asks no database."""
        return iter(())


REGISTRY.register(DatabaseFigures())


@login_not_required
@never_cache
@require_safe
def metrics(request: HttpRequest) -> HttpResponse:
    """The figures, to whoever brings METRICS_TOKEN as a bearer token (RFC 6750); without one, to nobody."""
    given = request.headers.get("Authorization", "").removeprefix("Bearer ")
    if not settings.METRICS_TOKEN or not constant_time_compare(given, settings.METRICS_TOKEN):
        raise Http404
    return HttpResponse(generate_latest(REGISTRY), content_type=CONTENT_TYPE_PLAIN_0_0_4)
