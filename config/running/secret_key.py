"""The key that signs what the program hands out: made at the first start, and kept for its owner only."""

import secrets
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

from accounts.own_files import kept_secret

SHORTEST = 50
"""Letters; Django's own check wants as many (security.W009)."""


def own_key(file: Path) -> str:
    """The key in a file, which is made if it isn't there.

    Raises ``ImproperlyConfigured`` with the remedy where it can't be read or made, or holds too little for a key.
    """
    try:
        key = kept_secret(file, lambda: secrets.token_urlsafe(SHORTEST).encode()).decode().strip()
    except (OSError, UnicodeDecodeError) as error:
        raise ImproperlyConfigured(
            f"The key in {file} can't be read or made ({type(error).__name__}). Let the program's user write "
            "there, or name a file that it can read as SECRET_KEY_FILE."
        ) from error
    if len(key) < SHORTEST:
        raise ImproperlyConfigured(
            f"{file} holds {len(key)} letters, too few for a key. Delete it, and the next start makes a new one: "
            "then everyone signs in again."
        )
    return key
