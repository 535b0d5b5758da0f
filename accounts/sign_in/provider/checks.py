"""What is missing before the district's provider can sign anybody in, for `check --deploy`."""

from collections.abc import Sequence
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Error

from accounts.sign_in.provider.asked import faults_of, provider_asked

WHERE = "docs/running.md, One sign-in for the district, says what each setting is."
NO_PROVIDER = "OIDC_PASSWORDS is off without OIDC_ISSUER: passwords are taken, since there is no other way in."


def provider_is_whole(*, app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """Each setting that is missing or wrong by itself."""
    asked = provider_asked()
    if asked is None:
        return [] if settings.OIDC_PASSWORDS else [Error(NO_PROVIDER, hint=WHERE, id="accounts.E001")]
    return [Error(words, hint=WHERE, id="accounts.E002") for words in faults_of(asked, settings.SITE_ADDRESS)]
