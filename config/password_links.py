"""Mails with a link by which a password is chosen, sent by a job: the page answers alike whoever is asked for."""

import datetime as dt

from django.utils import timezone

from accounts.models import Person
from accounts.people.mailing import LinkNotSentError, password_link_mail
from jobs.errors import JobError
from jobs.models import Job
from jobs.services import job_add

KIND = "password_link"
MOST, WITHIN = 3, dt.timedelta(hours=1)
"""So many mails to one person within this time: nobody's mail box is filled by others."""


def link_ask(*, person: Person, site: str) -> None:
    """Have the link mailed; nothing more is sent where enough was within the hour."""
    key = f"{KIND} {person.pk}"
    lately = Job.objects.filter(unique_key=key, created_at__gt=timezone.now() - WITHIN).count()
    if lately < MOST:
        job_add(kind=KIND, payload={"person": person.pk, "site": site}, district=person.district_id, unique_key=key)


def link_mail(*, person_id: int, site: str) -> None:
    """Send it, if the person can still sign in. Raises `JobError` where the mail server didn't take it."""
    person = Person.objects.filter(pk=person_id, is_active=True).first()
    if person is None or not person.email:
        return
    try:
        password_link_mail(person, site)
    except LinkNotSentError as error:
        raise JobError(str(error)) from error
