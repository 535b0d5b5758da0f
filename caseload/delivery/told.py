"""What is told of a session: what happened to each service line in it."""

import datetime as dt
import uuid
from dataclasses import dataclass, replace

from caseload.delivery.models import CompensatoryTime
from caseload.plans.models import ServiceLine


@dataclass(frozen=True, slots=True)
class Outcome:
    """What happened in a session to one service line.

    Without `delivered_minutes` and without a `reason` all was as planned; with a reason (its code in the district's
    table) and without minutes nothing was delivered.

    `given_by` names who gave it, if not the provider, and `given_under` under whom; None: as was said before, or
    the substitute who logs it. `noted_at` (aware) is when it was noted, if it is sent later.
    """

    delivered_minutes: int | None = None
    reason: str = ""
    note: str = ""
    given_by: str | None = None
    given_under: str | None = None
    noted_at: dt.datetime | None = None

    def minutes(self, planned: int) -> int:
        """Delivered minutes."""
        if self.delivered_minutes is not None:
            return self.delivered_minutes
        return 0 if self.reason else planned

    def given(self, by: str | None, under: str | None) -> "Outcome":
        """The same, given by whom and under whom where it doesn't say so itself, if anything was given."""
        if self.reason and not self.delivered_minutes:
            return self
        return replace(
            self,
            given_by=by if self.given_by is None else self.given_by,
            given_under=under if self.given_under is None else self.given_under,
        )


AS_PLANNED = Outcome()


@dataclass(frozen=True, slots=True)
class LogItem:
    """One service line at one session, and what happened: what an entry is made of. Times are local.

    `confirmed`: whoever sent it was asked whether it is another entry of the log once more, and said it isn't.
    Without a provider it is the service's own.
    """

    client_id: uuid.UUID
    service_line: ServiceLine
    date: dt.date
    planned_minutes: int
    outcome: Outcome = AS_PLANNED
    start: dt.time | None = None
    session_uid: uuid.UUID | None = None
    makes_up: bool = False
    makes_up_for: dt.date | None = None
    setting: str = ""
    confirmed: bool = False
    compensatory: CompensatoryTime | None = None
    provider_id: int | None = None
