"""The teacher of `tests.browser.today` with what a phone keeps of a day: routine, goal, supports, another teacher.

`python manage.py shell -c "from tests.browser.offline_day import make_offline_day; make_offline_day()"`.
"""

import datetime as dt
from decimal import Decimal

from accounts.models import Person, Substitution
from accounts.selectors import today_of
from caseload.care.models import Contact, Support
from caseload.plans.models import Student
from caseload.progress.models import StudentGoal
from caseload.progress.services import goal_save
from schedule.class_hour.models import Routine, RoutinePart
from schedule.class_hour.services import part_save, routine_save
from schedule.imports.services.demo import PASSWORD
from tests.browser.today import DRIVER, make_today

OTHER, LEAVER, COVER = "other-driver", "leaver", "cover"
ROUTINE = "Roll and catch"
SUPPORT = "Prosthesis below the left knee"
CONTACT = "Berit Tarn"
GOAL = "Will strike a ball off a tee in 4 of 5 trials."
WRITTEN = (SUPPORT, CONTACT, GOAL, "Latex in balls")
"""What is written about her students; none of it may lie readable on a phone."""


def make_offline_day() -> None:
    """Two sessions today; the second has a routine, a goal and a caution."""
    make_today()
    teacher = Person.objects.get(username=DRIVER)
    for username in (OTHER, LEAVER):
        Person.objects.create_user(
            username=username, password=PASSWORD, district=teacher.district, role=Person.Role.TEACHER
        )
    cover = Person.objects.create_user(
        username=COVER, password=PASSWORD, district=teacher.district, role=Person.Role.SUBSTITUTE
    )
    today = today_of(teacher)
    Substitution.objects.create(substitute=cover, teacher=teacher, first_date=today, last_date=today)
    first, second = Student.objects.visible_to(teacher).order_by("code")
    Support.objects.create(student=first, text=SUPPORT)
    Contact.objects.create(student=first, role=Contact.Role.OTHER, name=CONTACT)
    values = {"text": GOAL, "start": today - dt.timedelta(days=60), "end": today + dt.timedelta(days=120)}
    goal_save(actor=teacher, row=StudentGoal(student=second), values={**values, "baseline": Decimal(1)})
    routine = routine_save(actor=teacher, row=Routine(), values={"name": ROUTINE, "students": [second]})
    for title, minutes in (("Warm up", 10), ("Catch", 19)):
        part = {"kind": RoutinePart.Kind.WHOLE_GROUP, "title": title, "minutes": minutes, "least_minutes": 5}
        part_save(actor=teacher, row=RoutinePart(routine=routine), values=part)
