"""Sessions that two teachers give a student together: which of another's a session stands beside."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field

from schedule.calendar.spans import Span
from schedule.joint.agreed import AgreedByService, GivenTogether
from schedule.weeks.planning.others.elsewhere import Elsewhere


@dataclass(frozen=True, slots=True)
class Joint:
    """What is agreed of some services, and what the other teachers hold of it: in force, else in a draft."""

    agreed: AgreedByService = field(default_factory=dict)
    held: tuple[Elsewhere, ...] = ()

    def partners(self, services: Collection[int]) -> tuple[tuple[GivenTogether, Elsewhere], ...]:
        """Sessions that those of these services may be given together with, each with what is agreed."""
        return tuple(
            (agreed, one)
            for service in sorted(services)
            for agreed in self.agreed.get(service, ())
            for one in self.held
            if agreed.partner in one.services and agreed.holds_on(one.date)
        )


def is_beside(one: Elsewhere, span: Span, building: int, space: int | None) -> bool:
    """Whether a session of the same date is held at the same time in the same place as another teacher's."""
    return (one.span, one.place, one.space) == (span, building, space)


def is_agreed(agreed: Iterable[GivenTogether], other: Elsewhere) -> bool:
    """Whether a service of which this is agreed is given together with what another teacher's session holds."""
    return any(one.partner in other.services and one.holds_on(other.date) for one in agreed)
