"""The key under which a phone keeps what is a person's: it says nothing, and only this server can make one."""

from django.core.signing import BadSignature, Signer

from accounts.models import Person
from accounts.selectors import today_of

_ROLE = "."
_SIGNER = Signer(salt="accounts.sign_in.phone_key")


def phone_key(person: Person) -> str:
    """The key of a person in a role: the same on every phone, for as long as the server keeps its own key.

    Another role has another, so that the phone keeps apart what is of two roles, as of two people. The role that is
    held longest has the person's own, which phones knew before there were others.
    """
    first = person.role_rows[0].role if person.role_rows else person.role
    return _SIGNER.sign(str(person.pk) if person.role == first else f"{person.pk}{_ROLE}{person.role}")


def stopped_of_key(key: str) -> bool:
    """Whether the account of a key was stopped or is gone, or its role isn't held anymore.

    What isn't a key of ours says nothing: False.
    """
    try:
        told, _, role = _SIGNER.unsign(key).partition(_ROLE)
    except BadSignature:
        return False
    person = Person.objects.select_related("district").filter(pk=int(told), is_active=True).first()
    if person is None or not person.role_rows:
        return True
    return (role or person.role_rows[0].role) not in person.roles_on(today_of(person))
