"""Reads about signing in: the district's rules, open sessions, second factors."""

from dataclasses import dataclass

from django.contrib.sessions.models import Session
from django.db.models import QuerySet
from django.utils import timezone

from accounts.models import OpenSession, Person, RecoveryCode, SecondFactor, SignInRules
from accounts.selectors import today_of

SHARED_MINUTES = 15
"""After how long without use a session on a computer that others use ends, whatever the district says."""


def rules_of(person: Person) -> SignInRules:
    """What the person's district asks of everybody; what is usual where it has said nothing."""
    found = SignInRules.objects.filter(district_id=person.district_id or 0).first()
    return found or SignInRules(district=person.district)


def idle_minutes(person: Person, *, shared: bool) -> int:
    """After how many minutes without use a session of this person ends."""
    told = rules_of(person).idle_minutes
    return min(told, SHARED_MINUTES) if shared else told


def open_sessions(person: object) -> QuerySet[OpenSession]:
    """The person's sessions that aren't over, the last used first."""
    alive = Session.objects.filter(expire_date__gt=timezone.now()).values("session_key")
    return OpenSession.objects.visible_to(person).filter(session_key__in=alive)


@dataclass(frozen=True, slots=True)
class Factors:
    """What somebody has beside the password, and whether it is needed."""

    rows: list[SecondFactor]
    codes_left: int
    needed: bool

    @property
    def missing(self) -> bool:
        """Whether one is needed that isn't there."""
        return self.needed and not self.rows


def factors_of(person: Person) -> Factors:
    """A person's second factors, the unused recovery codes, and what the district asks."""
    rules, today = rules_of(person), today_of(person)
    # The strictest of all the roles that are held: whichever is worked in, the others are a press away.
    needed = not person.by_link and any(rules.needs_factor(role, today) for role in person.roles_on(today))
    left = RecoveryCode.objects.filter(person=person, used_at=None).count()
    return Factors(list(SecondFactor.objects.visible_to(person)), left, needed)


def has_factor(person: Person) -> bool:
    """Whether a password alone doesn't let this person in."""
    return SecondFactor.objects.filter(person=person).exists()
