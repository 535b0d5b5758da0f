"""Sessions in the database, as Django keeps them; read once for all sendings of one request."""

from copy import deepcopy
from typing import Any

from django.contrib.sessions.backends import db

from accounts.idempotency.shared import shared


class SessionStore(db.SessionStore):
    """Django's own, by which `SESSION_ENGINE` names it."""

    def load(self) -> dict[str, Any]:
        """What the session holds, each time a copy of its own."""
        found = shared(("session", self.session_key), super().load, at_once=True)
        # Of one that has ended, more than what it holds is set.
        return deepcopy(found) if found else super().load()
