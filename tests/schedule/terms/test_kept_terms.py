"""A term's run that is interrupted goes on from what it had."""

from collections.abc import Mapping
from typing import Any

import pytest

from jobs.context import JobContext
from jobs.models import Job
from jobs.services import Claim, job_claim, job_release, jobs_sweep
from schedule.job_handlers import plan_term
from schedule.terms.models import TermPlan
from schedule.terms.selectors.terms import term_detail, term_get
from schedule.terms.services import kept
from schedule.terms.services.plans import term_plan_start
from schedule.terms.services.publishing import term_publish
from schedule.weeks.models import WeekPlan
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_ground, make_line
from tests.schedule.terms.test_term_plans import drafts, moments, planned


class PowerCutError(Exception):
    """The program ends here: nothing after it is done."""


class CutOff(JobContext):
    """A worker whose power is cut once a week of the term is done, or once it says something else."""

    at = "Fitting week 2 "

    def report(self, progress: Mapping[str, Any]) -> None:
        if progress["message"].startswith(self.at):
            raise PowerCutError
        super().report(progress)


class CutOffLate(CutOff):
    """Once the timetable is settled: until then several are planned, of which the best is taken."""

    at = "Working out how much driving"


class Listening(JobContext):
    """Hears what the run says."""

    def __init__(self, claim: Claim) -> None:
        super().__init__(claim)
        self.said: list[str] = []

    def report(self, progress: Mapping[str, Any]) -> None:
        self.said.append(str(progress["message"]))
        super().report(progress)


@pytest.fixture(autouse=True)
def ground(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """Three services, and what is found is written at once: a term this small is planned within two seconds."""
    make_ground(cast)
    make_line(cast, "G1")
    make_line(cast, "F1", building=cast.south)
    monkeypatch.setattr(kept, "WRITE_AGAIN", 0.0)


def asked(cast: Cast) -> TermPlan:
    return term_plan_start(
        actor=cast.teacher, teacher=cast.teacher, first_date=MONDAY, last_date=date(18), time_limit=20
    )


def claimed(term: TermPlan) -> Claim:
    claim = job_claim(job_id=term.run.job_id)
    assert claim is not None
    return claim


def cut_off(term: TermPlan, worker: type[CutOff] = CutOff) -> None:
    """And given back, as the sweeper does once the lease has run out."""
    claim = claimed(term)
    with pytest.raises(PowerCutError):
        plan_term(worker(claim))
    job_release(claim=claim)
    assert jobs_sweep() == 1
    term.run.refresh_from_db()


def test_the_timetable_that_was_settled_is_the_one_that_comes(cast: Cast) -> None:
    term = asked(cast)
    cut_off(term, CutOffLate)
    assert not WeekPlan.objects.exists()
    settled = term.run.kept["memory"]["standing"]["sessions"]
    context = Listening(claimed(term))
    plan_term(context)
    assert context.said[0].endswith("Going on from what was found before the interruption.")
    assert any("A whole term is found: stopping keeps the best so far." in one for one in context.said)
    term = term_get(cast.teacher, term.pk)
    assert (term.run.job.state, term.run.kept) == (Job.State.DONE, {})
    assert term.standing is not None
    rows = term.standing.sessions.values_list("planner_key", "start")
    assert sorted((key, start.hour * 60 + start.minute) for key, start in rows) == sorted(
        (one["unit"], one["at"]) for one in settled
    )
    first, *others = [moments(week) for week in drafts(term)]
    assert len(first) == 4
    assert others == [first, first]


@pytest.mark.long
def test_the_ways_to_change_the_one_in_force_are_kept_too(cast: Cast) -> None:
    """Neither way is looked for again: with another answer in the row that one is taken."""
    term_publish(actor=cast.teacher, term=planned(cast))
    make_line(cast, "G2")
    term = asked(cast)
    cut_off(term)
    [way, *_] = term.run.kept["changed"]
    assert [one["unit"] for one in way["moves"] if one["before"] is None] != []
    way["drive_minutes"] = 777
    term.run.save(update_fields=["kept"])
    plan_term(JobContext(claimed(term)))
    view = term_detail(cast.teacher, term_get(cast.teacher, term.pk))
    assert view.ways[0].drive_minutes == 777
    assert view.minutes_placed == view.minutes_owed
