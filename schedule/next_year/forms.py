"""Forms of the coming year."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms import BoundField
from django.forms.models import ModelChoiceField

from accounts.fields import DateField
from accounts.forms import RecordForm
from caseload.plans.grades import GRADE_CHOICES
from caseload.plans.models.school_class import validate_grades
from schedule.next_year.models import NextYear, NextYearDay, NextYearPeriod, NextYearStudent
from schedule.next_year.selectors.lines import BuildingLine, ClassLine, StudentLine
from schedule.next_year.selectors.standing import YearStanding
from schedule.weeks.forms import DateInput

AT = "at-"
"""Before a building's id, where a student goes on in a building that is named."""
KEPT = "kept"
"""What is said of a student already and the other choices can't say, such as the same grade in another building."""


class BeginYearForm(forms.Form):
    """Name and days of the coming year."""

    name = forms.CharField(max_length=20, label="Name", help_text="Such as 2027-28.")
    first_day = DateField(widget=DateInput, label="First day with students")
    last_day = DateField(widget=DateInput, label="Last day with students")


class NextYearForm(RecordForm):
    """Name and days of a draft."""

    class Meta:
        model = NextYear
        fields = ("name", "first_day", "last_day")


class NextPeriodForm(RecordForm):
    """A marking period of the coming year."""

    class Meta:
        model = NextYearPeriod
        fields = ("name", "first_day", "last_day")


class NextDayForm(RecordForm):
    """A special day of the coming year."""

    class Meta:
        model = NextYearDay
        fields = ("title", "kind", "building", "first_date", "last_date", "bell_schedule", "closes_at", "answer")
        labels = {"kind": "What it does to classes", "bell_schedule": "Bells", "closes_at": "Students go home at"}
        help_texts = {"closes_at": "Of an early dismissal. Empty: by its bells."}

    def prepare(self) -> None:
        """Bells carry their building."""
        building, bells = self.fields["building"], self.fields["bell_schedule"]
        if isinstance(building, ModelChoiceField):
            building.empty_label = "The whole district"
        if isinstance(bells, ModelChoiceField):
            bells.empty_label = "The building's own of this kind"
            bells.label_from_instance = lambda row: f"{row.building}: {row}"  # type: ignore[method-assign,assignment]  # Django's way


@dataclass(frozen=True, slots=True)
class ClassRow:
    """A class with its fields."""

    line: ClassLine
    goes_on: BoundField
    grades: BoundField
    class_teacher: BoundField


@dataclass(frozen=True, slots=True)
class StudentRow:
    """A student with the fields: what becomes of them, and in which class."""

    line: StudentLine
    what: BoundField
    home_class: BoundField


class BuildingYearForm(forms.Form):
    """A building's page: the building, its classes, and everyone who is in it now or comes to it."""

    highest_grade = forms.ChoiceField(required=False, label="Highest grade")
    next_building = forms.ChoiceField(required=False, label="Who is above it goes to")
    bells_stay = forms.BooleanField(required=False, label="The bells stay as they are now")

    def __init__(self, *args: Any, standing: YearStanding, line: BuildingLine, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.standing, self.line = standing, line
        elsewhere = sorted((one for one in standing.open_schools if one != line.building), key=str)
        self._elsewhere = [(str(one.pk), str(one)) for one in elsewhere]
        self._building_fields()
        for one in line.classes:
            self._class_fields(one)
        here = {one.student.pk: one for one in [*line.students, *line.coming] if not one.entered}
        self.lines = tuple(here.values())
        for each in self.lines:
            self._student_fields(each)

    def _building_fields(self) -> None:
        said = self.standing.said_of(self.line.building)
        usual = (
            f"As it is: {dict(GRADE_CHOICES)[self.line.highest]}" if self.line.highest else "None: nobody is above"
        )
        choice = self.fields["highest_grade"]
        goes_to = self.fields["next_building"]
        if isinstance(choice, forms.ChoiceField) and isinstance(goes_to, forms.ChoiceField):
            choice.choices = [("", usual), *GRADE_CHOICES]
            goes_to.choices = [("", "Not said yet"), *self._elsewhere]
        choice.initial = said.highest_grade if said is not None else ""
        goes_to.initial = str(self.line.next_building.pk) if self.line.next_building is not None else ""
        self.fields["bells_stay"].initial = self.line.bells_stay

    def _class_fields(self, one: ClassLine) -> None:
        pk = one.school_class.pk
        self.fields[f"class-{pk}-goes_on"] = forms.BooleanField(
            required=False, initial=one.goes_on, label="Goes on"
        )
        self.fields[f"class-{pk}-grades"] = forms.CharField(
            required=False, initial=one.grades, label="Grades", max_length=40, validators=[validate_grades]
        )
        self.fields[f"class-{pk}-class_teacher"] = forms.CharField(
            required=False, initial=one.class_teacher, label="Teacher", max_length=80
        )

    def _student_fields(self, one: StudentLine) -> None:
        pk, said = one.student.pk, one.said
        choices = [
            ("", "As the rule says"),
            ("goes_on", "Goes on, a grade up"),
            ("again", "The same grade again"),
            ("leaves", "Leaves"),
            *((f"{AT}{place}", f"A grade up at {name}") for place, name in self._places(one)),
        ]
        what = _what(said)
        if what not in dict(choices):
            choices, what = [*choices, (KEPT, f"As said: {one.coming_words}")], KEPT
        self.fields[f"student-{pk}-what"] = forms.ChoiceField(
            required=False, choices=choices, initial=what, label="What becomes of them"
        )
        rooms = self.standing.rooms_at(one.coming.building_id)
        initial = str(said.home_class_id) if said is not None and said.home_class_id is not None else ""
        known = [(str(room.pk), str(room)) for room in rooms]
        kept = [(initial, "A class of another building")] if initial and initial not in dict(known) else []
        self.fields[f"student-{pk}-class"] = forms.ChoiceField(
            required=False,
            choices=[("", "As the rule says"), *known, *kept],
            initial=initial,
            label="Class",
        )

    def _places(self, one: StudentLine) -> list[tuple[str, str]]:
        return [
            (str(place.pk), str(place))
            for place in self.standing.open_schools
            if place.pk != one.standing.building_id
        ]

    @property
    def class_rows(self) -> Iterator[ClassRow]:
        """The classes with their fields."""
        for one in self.line.classes:
            pk = one.school_class.pk
            yield ClassRow(
                one, self[f"class-{pk}-goes_on"], self[f"class-{pk}-grades"], self[f"class-{pk}-class_teacher"]
            )

    def rows_of(self, lines: tuple[StudentLine, ...]) -> list[StudentRow]:
        """Students with their fields."""
        known = {one.student.pk for one in self.lines}
        return [
            StudentRow(one, self[f"student-{one.student.pk}-what"], self[f"student-{one.student.pk}-class"])
            for one in lines
            if one.student.pk in known
        ]

    @property
    def building_values(self) -> dict[str, Any]:
        """What is said of the building."""
        goes_to = self.cleaned_data["next_building"]
        return {
            "building": self.line.building,
            "highest_grade": self.cleaned_data["highest_grade"],
            "next_building": self.standing.buildings[int(goes_to)] if goes_to else None,
            "bells_stay": self.cleaned_data["bells_stay"],
        }

    @property
    def class_values(self) -> dict[int, dict[str, Any]]:
        """What is changed of classes, by their ids."""
        found = {}
        for one in self.line.classes:
            pk = one.school_class.pk
            names = ("goes_on", "grades", "class_teacher")
            if any(f"class-{pk}-{name}" in self.changed_data for name in names):
                values = {name: self.cleaned_data[f"class-{pk}-{name}"] for name in names}
                found[pk] = {"school_class": one.school_class, **values}
        return found

    @property
    def student_values(self) -> dict[int, dict[str, Any]]:
        """What is changed of students, by their ids."""
        found = {}
        for one in self.lines:
            pk = one.student.pk
            what, room = f"student-{pk}-what", f"student-{pk}-class"
            if {what, room} & set(self.changed_data):
                said = self._said(what, one.said)
                found[pk] = {"student": one.student, **said, "home_class": self._room(room, what)}
        return found

    def _said(self, name: str, before: NextYearStudent | None) -> dict[str, Any]:
        if before is not None and name not in self.changed_data:
            return {"choice": before.choice, "building": before.building}
        text = self.cleaned_data[name]
        if text.startswith(AT):
            place = self.standing.buildings[int(text.removeprefix(AT))]
            return {"choice": NextYearStudent.Choice.GOES_ON, "building": place}
        return {"choice": text, "building": None}

    def _room(self, name: str, what: str) -> Any:
        """The class that is chosen, unless the student goes to another building than before the form."""
        text = self.cleaned_data[name]
        if not text or (what in self.changed_data and name not in self.changed_data):
            return None
        return self.standing.classes.get(int(text))

    def refuse(self, error: ValidationError) -> None:
        """Put what a service found wrong at the top, with whom it is about."""
        for name, texts in error.message_dict.items():
            kind, _, pk = name.partition(".")
            self.add_error(f"{kind}-{pk}-class" if kind == "student" else None, texts)


def _what(said: NextYearStudent | None) -> str:
    if said is None:
        return ""
    if said.building_id is None:
        return said.choice
    return KEPT if said.choice in {"again", "leaves"} else f"{AT}{said.building_id}"
