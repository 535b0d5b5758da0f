"""Tables of the accounts floor."""

from accounts.models.audit import AuditEntry
from accounts.models.district import District
from accounts.models.idempotency import IdempotencyKey
from accounts.models.invitation import Invitation
from accounts.models.person import Person
from accounts.models.role import PersonRole, held_ever, held_from, held_on
from accounts.models.scope import DistrictRow, ForCoordinatorsQuerySet, ScopedQuerySet
from accounts.models.sign_in import OpenSession, ProviderAccount, RecoveryCode, SecondFactor, SignInRules
from accounts.models.substitution import CoveredSession, Substitution
from accounts.models.token import ApiToken

__all__ = [
    "ApiToken", "AuditEntry", "CoveredSession", "District", "DistrictRow", "ForCoordinatorsQuerySet",
    "IdempotencyKey", "Invitation", "OpenSession", "Person", "PersonRole", "ProviderAccount", "RecoveryCode",
    "ScopedQuerySet", "SecondFactor", "SignInRules", "Substitution", "held_ever", "held_from", "held_on",
]  # fmt: skip
