"""What whoever watches the program sees of it: readiness, figures, and the log. No names, no ids, no secrets."""

import datetime as dt
import json
import re

import pytest
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client
from django.utils import timezone
from prometheus_client.parser import text_string_to_metric_families
from pytest_django.fixtures import Settings

from accounts.models import Person
from config.running.health import LATE_AFTER, _migrated
from jobs.models import Job
from jobs.services import job_add
from schedule.feeds.services.feeds import PREFIX
from tests.conftest import Cast
from tests.databases import ROOT
from tests.servers import free_port
from tests.sides import Side
from tests.visitor import Visitor

TOKEN = "a-token-of-the-tests"
MINUTE = dt.timedelta(minutes=1)


@pytest.mark.django_db
def test_ready_once_the_tables_are_there(client: Client) -> None:
    _migrated.cache_clear()
    answer = client.get("/ready/")
    assert (answer.status_code, answer.json()) == (200, {"database": "ok", "migrations": "ok", "queue": "ok"})
    _migrated.cache_clear()
    ((_app, last),) = MigrationLoader(connection).graph.leaf_nodes("jobs")
    MigrationRecorder(connection).record_unapplied("jobs", last)
    answer = client.get("/ready/")
    assert (answer.status_code, answer.json()["migrations"]) == (503, "missing")
    MigrationRecorder(connection).record_applied("jobs", last)
    assert client.get("/ready/").status_code == 200


@pytest.mark.django_db
def test_work_that_nobody_begins_is_told_and_turns_nobody_away(client: Client) -> None:
    job = job_add(kind="nobody", payload={})
    for age, queue in ((LATE_AFTER - MINUTE, "ok"), (LATE_AFTER + MINUTE, "late: no worker, or no beat")):
        Job.objects.filter(pk=job.pk).update(created_at=timezone.now() - age)
        answer = client.get("/ready/")
        assert (answer.status_code, answer.json()["queue"]) == (200, queue)


@pytest.mark.django_db
@pytest.mark.parametrize("sent", ["", "Bearer ", "Bearer wrong", f"Basic {TOKEN}"])
def test_figures_are_for_whoever_brings_the_token(client: Client, settings: Settings, sent: str) -> None:
    assert client.get("/metrics/", headers={"Authorization": sent}).status_code == 404
    settings.METRICS_TOKEN = TOKEN
    assert client.get("/metrics/", headers={"Authorization": sent}).status_code == 404


@pytest.mark.django_db
def test_figures_count_work_and_requests_without_names(client: Client, cast: Cast, settings: Settings) -> None:
    settings.METRICS_TOKEN = TOKEN
    now = timezone.now()
    spans = {"started_at": now - 3 * MINUTE, "ended_at": now - MINUTE, "state": Job.State.DONE}
    Job.objects.filter(pk=job_add(kind="plan_week", payload={}).pk).update(**spans)
    Job.objects.filter(pk=job_add(kind="plan_week", payload={}).pk).update(created_at=now - 5 * MINUTE)
    # Not "teacher", which is a word of other routes that this process was asked for.
    Person.objects.filter(pk=cast.teacher.pk).update(username="ullaquist")
    client.force_login(cast.teacher)
    assert client.get(f"/students/{cast.student.pk}/").status_code == 200
    answer = client.get("/metrics/", headers={"Authorization": f"Bearer {TOKEN}"})
    # The reader of the format's own library (Prometheus text format 0.0.4).
    families = text_string_to_metric_families(answer.content.decode())
    samples = {(one.name, *one.labels.values()): one.value for family in families for one in family.samples}
    assert samples["mm_jobs", "plan_week", "done"] == samples["mm_jobs", "plan_week", "waiting"] == 1
    assert samples["mm_job_seconds_sum", "plan_week"] == pytest.approx(120)
    assert samples["mm_job_seconds_count", "plan_week"] == 1
    assert samples["mm_job_oldest_seconds", "waiting"] == pytest.approx(300, abs=60)
    assert samples["mm_requests_total", "GET", "students/<id:pk>/", "200"] >= 1
    labels = {str(label) for sample in samples for label in sample[1:]}
    held = {cast.student.code, cast.student.last_name, "ullaquist", cast.north.name} - {""}
    assert not {label for label in labels for word in held if word.lower() in label.lower()}


@pytest.mark.long
def test_the_log_is_one_object_a_line_with_the_requests_id(sqlite_side: Side) -> None:
    port = free_port()
    watched = {"LOG_FORMAT": "json", "LOG_LEVEL": "INFO", "WEB_LISTEN": f"127.0.0.1:{port}"}
    sqlite_side.start(ROOT / "manage.py", "serve", **watched)
    visitor = Visitor(f"http://127.0.0.1:{port}")
    visitor.wait()
    secret = f"{PREFIX}{'s' * 43}"
    feed = visitor.ask("GET", f"/feeds/{secret}.ics", **{"X-Request-ID": "from-the-proxy-0001"})
    assert feed.headers["X-Request-ID"] == "from-the-proxy-0001"
    packet = visitor.ask("GET", f"/packets/{secret}/", **{"X-Request-ID": "told\tby anybody"})
    made = packet.headers["X-Request-ID"]
    assert re.fullmatch(r"[0-9a-f]{32}", made)
    text = (sqlite_side.home / "out-0").read_text()
    lines = [json.loads(line) for line in text.splitlines() if line.startswith("{")]
    by_id = {line["request_id"]: line for line in lines if line["name"] == "config.requests"}
    assert by_id["from-the-proxy-0001"]["status"] == feed.status
    assert by_id[made]["route"] == "packets/<slug:secret>/"
    assert by_id[made]["milliseconds"] > 0
    assert {line["request_id"] for line in lines if line["name"] == "django.request"} == {
        made,
        "from-the-proxy-0001",
    }
    assert secret not in text
