"""A small district with six weeks ahead in which an aide gets other hours; run on the server's database.

Its command: `shell -c "from tests.browser.aide_hours import make_district; make_district()"`. Invented names only.
"""

from caseload.care.models import Contact, Support
from caseload.plans.models import Student, StudentHold
from schedule.aides.models import AideHours
from schedule.calendar.models import SpaceFreeTime
from tests.browser.term_change import make_district as make_term_district
from travel.places.models import Space


def make_district() -> None:
    """S01 needs Ms. Orel, who is there in the mornings; F1 in the south needs nobody. The gym is free all week."""
    make_term_district()
    StudentHold.objects.all().delete()
    SpaceFreeTime.objects.all().delete()
    Space.objects.filter(name="Small room").delete()
    student = Student.objects.get(code="S01")
    aide = Contact.objects.create(student=student, role=Contact.Role.AIDE, name="Ms. Orel", phone="555 0142")
    AideHours.objects.create(contact=aide, first_day=student.plans.get().start, times="Mon-Fri 8:00 to 11:00")
    Support.objects.create(student=student, kind=Support.Kind.AIDE, text="One aide for transfers")
