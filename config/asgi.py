"""The ASGI application, and the worker beside it where the settings ask for one."""

import os

from django.core.asgi import get_asgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
application = get_asgi_application()

from config.running.redaction import access_logs_redact  # noqa: E402 -- the settings must be there first
from config.running.start import refuse_if_unfit  # noqa: E402 -- as above
from jobs.beside import start_beside  # noqa: E402 -- models can be imported only after the set-up above

refuse_if_unfit()
access_logs_redact()
start_beside()
