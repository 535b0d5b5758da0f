"""Supports, cautions and tags as rows: what holds on a day, what an activity meets, who may see it."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError

from accounts.errors import ApplicationError
from accounts.models import District
from caseload.care.models import Caution, CautionTag, Contact, Support
from caseload.care.selectors import care_of, cautions_met
from caseload.care.services import caution_tag_delete, caution_tag_save, tags_ensure
from caseload.care.written import ASK_FIRST, WHO_DECIDES
from tests.conftest import Cast, make_student

pytestmark = pytest.mark.django_db

DAY = dt.date(2026, 10, 5)
BEFORE, AFTER = DAY - dt.timedelta(days=1), DAY + dt.timedelta(days=1)


def tag(cast: Cast, name: str) -> CautionTag:
    """One of the district's tags."""
    return CautionTag.objects.get(district=cast.district, name=name)


def caution(cast: Cast, *tags: str, **values: object) -> Caution:
    """A caution of the teacher's student with tags."""
    made = Caution.objects.create(student=cast.student, **{"text": "Seizures.", **values})
    made.tags.set([tag(cast, name) for name in tags])
    return made


def test_a_new_district_has_the_first_tags(db: None) -> None:
    """The eight that the requirement names and two more; a change of the district and a backup bring none again."""
    district = District.objects.create(name="Heron Coast", time_zone="America/Chicago")
    names = set(CautionTag.objects.filter(district=district).values_list("name", flat=True))
    assert names == {
        "height",
        "water",
        "heat",
        "latex",
        "flashing light",
        "contact",
        "exertion",
        "noise",
        "small parts",
        "leaving the room",
    }
    CautionTag.objects.filter(district=district, name="heat").delete()
    district.name = "Heron Coast Schools"
    district.save()
    tags_ensure(district, created=True, raw=True)
    assert CautionTag.objects.filter(district=district).count() == 9


def test_a_district_adds_and_removes_tags(cast: Cast) -> None:
    """No tag twice, in whatever case; another district's are out of reach."""
    saved = caution_tag_save(actor=cast.teacher, row=CautionTag(), values={"name": "Sand"})
    assert saved.district == cast.district
    with pytest.raises(ValidationError, match="already has this tag"):
        caution_tag_save(actor=cast.mate, row=CautionTag(), values={"name": "sand"})
    with pytest.raises(ApplicationError):
        caution_tag_delete(actor=cast.stranger, row=saved)
    row = caution(cast, "water")
    row.tags.add(saved)
    caution_tag_delete(actor=cast.coordinator, row=saved)
    assert [one.name for one in row.tags.all()] == ["water"]


@pytest.mark.parametrize(
    ("first", "last", "holds"),
    [
        (None, None, True), (DAY, DAY, True), (BEFORE, AFTER, True), (None, BEFORE, False), (AFTER, None, False),
        (DAY, None, True), (None, DAY, True),
    ],
)  # fmt: skip
def test_what_holds_on_a_day(cast: Cast, first: dt.date | None, last: dt.date | None, *, holds: bool) -> None:
    """The first and the last day included, for what is shown and for what is met."""
    caution(cast, "water", first_day=first, last_day=last)
    Support.objects.create(student=cast.student, text="Cards", first_day=first, last_day=last)
    care = care_of(cast.teacher, [cast.student.pk], day=DAY)[cast.student.pk]
    assert (care.cautions, care.supports) == (("Seizures.", "Cards") if holds else ("", ""))
    assert care.ask_first == (ASK_FIRST if holds else "")
    assert bool(cautions_met([cast.student.pk], [tag(cast, "water").pk], day=DAY)) is holds


def test_an_activity_meets_the_cautions_that_have_one_of_its_tags(cast: Cast) -> None:
    """Once each, with the tags that both have, and whom the caution names; without tags nothing is met."""
    both = caution(cast, "water", "height", decides="The school nurse, Ms. Orre")
    latex = caution(cast, "latex")
    caution(cast)
    other = make_student(cast.district, cast.north, cast.teacher, "S07")
    students = [cast.student.pk, other.pk]
    asked = [tag(cast, name).pk for name in ("height", "water", "latex", "noise")]
    met = cautions_met(students, asked, day=DAY)
    assert [(one.student, one.caution, one.tags, one.whom) for one in met] == [
        (cast.student.pk, both.pk, ("height", "water"), "The school nurse, Ms. Orre"),
        (cast.student.pk, latex.pk, ("latex",), WHO_DECIDES),
    ]
    assert cautions_met(students, [], day=DAY) == ()
    assert cautions_met([other.pk], asked, day=DAY) == ()
    assert cautions_met(students, [tag(cast, "noise").pk], day=DAY) == ()


def test_a_caution_tells_its_steps_and_where_it_stands(cast: Cast) -> None:
    """One step a line; the sentence about whom to ask isn't repeated."""
    caution(
        cast, "height", text=f"Seizures. {ASK_FIRST}", emergency_steps="Time it.\n\n  Call the nurse. \n",
        source="Seizure plan", written_on=BEFORE,
    )  # fmt: skip
    care = care_of(cast.teacher, [cast.student.pk], day=DAY)[cast.student.pk]
    told = care.cautions_listed[0]
    assert (told.text, told.emergency_steps) == ("Seizures.", ("Time it.", "Call the nurse."))
    assert (told.label, told.tags, told.whom) == ("Medical", ("height",), WHO_DECIDES)
    assert (told.source, told.written_on) == ("Seizure plan", BEFORE)
    assert care.has_steps


def test_the_other_student_is_named_to_who_may_see_both(cast: Cast) -> None:
    """The coordinator sees both; to the teacher the other one is a code."""
    Support.objects.create(
        student=cast.student, kind=Support.Kind.APART, other_student=cast.mates_student, text="Not in one group"
    )
    shown = {
        who: care_of(who, [cast.student.pk], day=DAY)[cast.student.pk].supports
        for who in (cast.teacher, cast.coordinator)
    }
    other = cast.mates_student
    assert shown[cast.teacher] == f"Kept apart from {other.code}: Not in one group"
    assert shown[cast.coordinator] == f"Kept apart from {other.full_name}: Not in one group"


def test_two_students_are_two(cast: Cast) -> None:
    """Whoever goes with somebody goes with somebody else, and only then one is named."""

    def problem(**values: object) -> ValidationError:
        with pytest.raises(ValidationError) as found:
            Support(student=cast.student, text="Pairs", **values).full_clean()
        return found.value

    assert "other_student" in problem(kind="with").error_dict
    assert "other_student" in problem(kind="apart", other_student=cast.student).error_dict
    assert "Another student is named only" in str(problem(kind="cue", other_student=cast.mates_student))


def test_contacts_are_seen_by_who_sees_the_student_or_teaches_the_class(cast: Cast) -> None:
    """Neither a school office nor another district, and a student's only by who sees the student."""
    student = Contact.objects.create(student=cast.student, role="nurse", name="R. Orre", phone="555 0100")
    room = Contact.objects.create(school_class=cast.room4, role="teacher", name="T. Holm", email="holm@example.org")
    seen = {
        name: set(Contact.objects.visible_to(getattr(cast, name)))
        for name in ("teacher", "mate", "coordinator", "office", "stranger")
    }
    both = {student, room}
    assert seen == {"teacher": both, "mate": {room}, "coordinator": both, "office": set(), "stranger": set()}


def test_a_contact_can_be_reached_and_belongs_to_one(cast: Cast) -> None:
    """A phone or an address to write to; a student or a class; a parent only of a student."""
    with pytest.raises(ValidationError, match="phone number or an email"):
        Contact(student=cast.student, role="aide", name="Ines").full_clean()
    with pytest.raises(ValidationError, match="not to both"):
        Contact(student=cast.student, school_class=cast.room4, role="aide", name="Ines", phone="1").full_clean()
    with pytest.raises(ValidationError, match="of a student, not of a class"):
        Contact(school_class=cast.room4, role="parent", name="Ines", phone="1").full_clean()
