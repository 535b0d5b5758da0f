"""The key under which a phone keeps what is a person's: it says nothing, and only this server can make one."""

from django.core.signing import BadSignature, Signer

from accounts.models import Person

_SIGNER = Signer(salt="accounts.sign_in.phone_key")


def phone_key(person: Person) -> str:
    """A person's key: the same on every phone, for as long as the server keeps its own key."""
    return _SIGNER.sign(str(person.pk))


def stopped_of_key(key: str) -> bool:
    """Whether the account of a key was stopped or is gone. What isn't a key of ours says nothing: False."""
    try:
        pk = int(_SIGNER.unsign(key))
    except BadSignature:
        return False
    return not Person.objects.filter(pk=pk, is_active=True).exists()
