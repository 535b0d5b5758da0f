"""The WSGI application, and the worker thread beside it where the settings ask for one."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
application = get_wsgi_application()

from jobs.runner import start_thread  # noqa: E402 -- models can be imported only after the set-up above

start_thread()
