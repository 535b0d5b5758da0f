"""The demo's largest class with an aide, in its last session of the two weeks ahead; on the server's database.

`python manage.py shell -c "from tests.browser.whole_hour import make_whole_hour; make_whole_hour()"`.
"""

import datetime as dt
import json

from accounts.models import Person
from accounts.selectors import today_of
from caseload.care.models import Contact
from caseload.care.services import contact_save
from caseload.plans.models import SchoolClass
from schedule.class_hour.selectors.hours import hours_of_day

AIDE = "Ms. Quarles"


def make_whole_hour() -> None:
    """Prints, as the last line, the session, its day and start."""
    teacher = Person.objects.get(username="teacher")
    room = SchoolClass.objects.visible_to(teacher).get(code="RM3")
    values = {"role": Contact.Role.AIDE, "name": AIDE, "phone": "555-0141 ext. 23"}
    contact_save(actor=teacher, row=Contact(school_class=room), values=values)
    today = today_of(teacher)
    days = [today - dt.timedelta(days=today.weekday()) + dt.timedelta(days=ahead) for ahead in range(14)]
    hours = [one for day in days for one in hours_of_day(teacher, teacher, day)]
    there = set(room.students.values_list("pk", flat=True))
    session = [one.session for one in hours if {who.student_id for who in one.session.attendees} == there][-1]
    told = {"session": session.uid, "date": session.date.isoformat(), "start": session.start.isoformat()}
    print(json.dumps(told))  # noqa: T201 -- the test reads it
