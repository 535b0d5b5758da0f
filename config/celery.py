"""The Celery application, used when REDIS_URL is set (``celery -A config worker --beat``)."""

import os

from celery import Celery
from celery.signals import beat_init, celeryd_init

from config.running.start import end_if_unfit

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
app = Celery("config")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
# By then Celery has set Django up.
celeryd_init.connect(end_if_unfit, weak=False)
beat_init.connect(end_if_unfit, weak=False)
