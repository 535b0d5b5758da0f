"""The mail about a closing that holds today, and whom it concerns. It names schools, never students."""

from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.mail import EmailMessage
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from accounts.models import Person, Substitution
from schedule.calendar.models import CalendarEntry
from schedule.weeks.models import PlannedSession, WeekPlan


def closing_mail_send(*, entry: CalendarEntry) -> int:
    """Write to everyone whom it concerns today, each by a mail of their own; returns to how many."""
    people = [person for person in closing_people(entry) if person.email]
    for person in people:
        EmailMessage(_subject(entry), _body(entry), settings.DEFAULT_FROM_EMAIL, [person.email]).send()
    return len(people)


def closing_people(entry: CalendarEntry) -> list[Person]:
    """Teachers with sessions there today, who covers for them, and the offices of those schools."""
    today = timezone.localdate(timezone=ZoneInfo(entry.district.time_zone))
    sessions = PlannedSession.objects.filter(
        week__district=entry.district, week__status=WeekPlan.Status.PUBLISHED, date=today
    )
    if entry.building is not None:
        sessions = sessions.filter(building=entry.building)
    teachers = sessions.values("week__teacher")
    substitutions = Substitution.objects.filter(teacher__in=teachers, first_date__lte=today, last_date__gte=today)
    concerned = Q(pk__in=teachers) | Q(pk__in=substitutions.values("substitute"))
    concerned |= Q(role=Person.Role.OFFICE, offices__building__in=sessions.values("building"))
    people = Person.objects.filter(concerned, district=entry.district, is_active=True)
    return list(people.distinct().order_by("pk"))


def _place(entry: CalendarEntry) -> str:
    return str(entry.building) if entry.building is not None else f"All schools of {entry.district}"


def _subject(entry: CalendarEntry) -> str:
    return f"Today: {entry.get_kind_display()}, {_place(entry)}"


def _body(entry: CalendarEntry) -> str:
    lines = [f"{_place(entry)}: {entry.get_kind_display()} today."]
    lines += [entry.title] if entry.title else []
    lines += ["", "The day sheet and the calendar feeds show it already; your calendar may fetch later."]
    if settings.SITE_ADDRESS:
        lines.append(f"{settings.SITE_ADDRESS.rstrip('/')}{reverse('day')}")
    return "\n".join(lines)
