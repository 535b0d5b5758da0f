"""The key under which a phone keeps what is a person's: it says nothing, and only this server can make one."""

from django.core.signing import Signer

from accounts.models import Person

_SIGNER = Signer(salt="accounts.sign_in.phone_key")


def phone_key(person: Person) -> str:
    """A person's key: the same on every phone, for as long as the server keeps its own key."""
    return _SIGNER.sign(str(person.pk))
