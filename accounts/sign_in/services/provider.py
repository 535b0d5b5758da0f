"""Whom a provider's sign-in is: found among the people who are here, and tied to them from the first time on."""

import datetime as dt
from collections.abc import Callable, Mapping
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import QuerySet

from accounts.errors import ApplicationError
from accounts.models import OpenSession, Person, ProviderAccount
from accounts.people.services import PERMISSION
from accounts.services import NOT_THERE, audit_write, district_of, permission_require
from accounts.sign_in.provider.asked import Provider
from accounts.sign_in.provider.said import named
from accounts.sign_in.provider.talking import ProviderError
from accounts.sign_in.services.sessions import sessions_end_at_provider


def provider_person(*, asked: Provider, claims: Mapping[str, Any]) -> Person:
    """Whose sign-in it is. Nobody is made: who isn't among the people of the district gets in nowhere.

    Issuer and subject alone name somebody for good (OpenID Connect Core 1.0, 5.7); a mail address may be given to
    somebody else one day. So the claim finds a person once, and from then on the subject does.
    Raises `ProviderError`.
    """
    people = _people(asked)
    subject = str(claims["sub"])
    tied = ProviderAccount.objects.filter(issuer=asked.issuer, subject=subject).first()
    if tied is not None:
        person = people.filter(pk=tied.person_id).first()
        if person is None:
            raise ProviderError("unknown")
        return person
    return _tied(asked, _found(asked, people, named(claims, asked.claim)), subject)


def _people(asked: Provider) -> QuerySet[Person]:
    """Those whom the provider may sign in."""
    rows = Person.objects.filter(is_active=True, by_link=False, district__isnull=False)
    return rows.filter(district__name=asked.district) if asked.district else rows


def _found(asked: Provider, people: QuerySet[Person], name: str) -> Person:
    if not name:
        raise ProviderError("unnamed")
    found = list(people.filter(**{f"{asked.field}__iexact": name})[:2])
    if not found:
        raise ProviderError("unknown")
    if len(found) > 1:
        raise ProviderError("several")
    return found[0]


def _tied(asked: Provider, person: Person, subject: str) -> Person:
    """Tie the account to the person; one of another provider, from before the district changed it, ends."""
    try:
        with transaction.atomic():
            ProviderAccount.objects.filter(person=person).exclude(issuer=asked.issuer).delete()
            row = ProviderAccount.objects.create(person=person, issuer=asked.issuer, subject=subject)
            audit_write(actor=person, district=district_of(row), action="provider_account_add", row=row)
    except IntegrityError as error:  # the person has another account there already
        raise ProviderError("other_account") from error
    return person


def provider_sessions_end(
    *, asked: Provider, claims: Mapping[str, Any], leeway: int, began_there: Callable[[Any], bool]
) -> int:
    """End what began at the provider of whom it says that their sign-in there has ended; returns how many sessions.

    `claims`: of a checked logout token. Sessions that began after it stay, so that one sent again ends nothing new.
    `leeway`: seconds by which clocks may differ. `began_there`: whether a session that holds this is one of those
    (`accounts.sign_in.staying.held_by_provider`).
    """
    accounts = ProviderAccount.objects.filter(issuer=asked.issuer).select_related("person")
    if "sub" in claims:
        accounts = accounts.filter(subject=claims["sub"])
    accounts = accounts.filter(person__in=OpenSession.objects.values("person"))
    until = dt.datetime.fromtimestamp(claims["iat"] + leeway, dt.UTC)
    return sum(
        sessions_end_at_provider(person=one.person, until=until, began_there=began_there) for one in accounts
    )


def provider_account_forget(*, actor: Person, row: Person) -> None:
    """Let go of the account that a person signs in with: their next sign-in may come by another one.

    For a coordinator of the district.
    """
    permission_require(actor, PERMISSION)
    if row.district_id is None or row.district_id != actor.district_id:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    with transaction.atomic():
        for account in ProviderAccount.objects.filter(person=row):
            audit_write(actor=actor, district=district_of(account), action="provider_account_forget", row=account)
            account.delete()
