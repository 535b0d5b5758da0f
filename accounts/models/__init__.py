"""Tables of the accounts floor."""

from accounts.models.audit import AuditEntry
from accounts.models.district import District
from accounts.models.person import Person, Substitution
from accounts.models.scope import DistrictRow, ScopedQuerySet

__all__ = ["AuditEntry", "District", "DistrictRow", "Person", "ScopedQuerySet", "Substitution"]
