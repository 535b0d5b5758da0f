"""The project: settings, addresses, and the Celery application that tasks bind to."""

from config.celery import app as celery_app

__all__ = ["celery_app"]
