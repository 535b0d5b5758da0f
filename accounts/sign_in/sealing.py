"""Secrets that the program must read again, sealed under its own key: a database alone doesn't tell them.

Under another key they are lost, as sessions are; recovery codes still let people in.
"""

import base64

from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings

PURPOSE = b"accounts.sign_in.sealing"


def _box() -> MultiFernet:
    keys = [settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS]
    made = [HKDF(SHA256(), 32, salt=None, info=PURPOSE).derive(str(one).encode()) for one in keys]
    return MultiFernet([Fernet(base64.urlsafe_b64encode(one)) for one in made])


def seal(text: str) -> str:
    """The text, sealed."""
    return _box().encrypt(text.encode()).decode()


def unseal(sealed: str) -> str | None:
    """The text again; None if it was sealed under another key."""
    try:
        return _box().decrypt(sealed.encode()).decode()
    except InvalidToken:
        return None
