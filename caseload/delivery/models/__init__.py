"""Tables of the delivery log and of a district's rules for it."""

from caseload.delivery.models.compensatory import CompensatoryTime
from caseload.delivery.models.delivery import DeliveryEntry, DeliveryVersion, TeamDecision
from caseload.delivery.models.rules import LedgerSettings, MissedReason, ReasonEffect

__all__ = [
    "CompensatoryTime",
    "DeliveryEntry",
    "DeliveryVersion",
    "LedgerSettings",
    "MissedReason",
    "ReasonEffect",
    "TeamDecision",
]
