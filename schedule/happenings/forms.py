"""What is typed about something that happened: for each kind the fields that it needs."""

from typing import Any

from django import forms

from accounts.fields import RowsField
from accounts.forms import RecordForm
from accounts.models import Person
from caseload.plans.names import student_names
from schedule.calendar.happened import OF_SCHOOLS, HappeningKind
from schedule.calendar.models import Happening
from schedule.calendar.models.happenings import KIND_WORDS
from travel.places.models import Building

SPAN, TIMES = ("first_date", "last_date"), ("start", "end")
FIELDS = {
    HappeningKind.AWAY: ("teacher", *SPAN, *TIMES, "note"),
    HappeningKind.LATE: ("teacher", "minutes", "first_date", "start"),
    HappeningKind.CLOSED: ("buildings", *SPAN, "grades", "note"),
    HappeningKind.DELAYED_OPENING: ("buildings", "end", "minutes", "first_date", "last_date", "grades", "note"),
    HappeningKind.EARLY_DISMISSAL: ("buildings", "start", "minutes", "first_date", "last_date", "grades", "note"),
    HappeningKind.SPACE_TAKEN: ("space", "first_date", "last_date", *TIMES, "goes_on", "note"),
    HappeningKind.CLASS_AWAY: ("school_class", *SPAN, *TIMES, "note"),
    HappeningKind.STUDENT_ABSENT: ("student", *SPAN),
    HappeningKind.AIDE_MISSING: ("teacher", *SPAN, *TIMES, "goes_on", "note"),
}
LABELS: dict[HappeningKind, dict[str, str]] = {
    HappeningKind.LATE: {"minutes": "Minutes", "start": "From", "first_date": "Day"},
    HappeningKind.DELAYED_OPENING: {"end": "Opens at", "minutes": "Or later by, in minutes"},
    HappeningKind.EARLY_DISMISSAL: {"start": "Students go home at", "minutes": "Or earlier by, in minutes"},
    HappeningKind.AIDE_MISSING: {"goes_on": "The sessions are held without the aide"},
    HappeningKind.SPACE_TAKEN: {"goes_on": "The sessions are held elsewhere"},
}
HELP: dict[HappeningKind, dict[str, str]] = {
    HappeningKind.LATE: {"start": "Empty: from now on.", "minutes": "Such as 20."},
    HappeningKind.DELAYED_OPENING: {
        "end": "Empty, and no minutes: by each school’s bells for such a day.",  # noqa: RUF001 -- as pages write it
        "minutes": "Such as 120 for two hours.",
    },
    HappeningKind.EARLY_DISMISSAL: {
        "start": "Empty, and no minutes: by each school’s bells for such a day.",  # noqa: RUF001 -- as above
        "minutes": "Such as 120 for two hours.",
    },
}


class HappeningForm(RecordForm):
    """One kind of happening; no building chosen is every school."""

    buildings = RowsField(
        queryset=Building.objects.all(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="Schools",
        help_text="None: every school.",
    )

    class Meta:
        model = Happening
        fields = [
            "teacher", "buildings", "space", "school_class", "student", "grades", "first_date", "last_date",
            "start", "end", "minutes", "goes_on", "note",
        ]  # fmt: skip
        labels = {
            "first_date": "First day",
            "last_date": "Last day",
            "start": "From",
            "end": "To",
            "school_class": "Class",
            "grades": "Only these grades",
        }
        help_texts = {
            "last_date": "Empty: one day.",
            "start": "Empty: from the beginning of the day.",
            "end": "Empty: to its end.",
            "note": "Why, in a few words. No student’s name.",  # noqa: RUF001 -- as above
        }

    def __init__(self, *args: Any, kind: HappeningKind, viewer: Person, **kwargs: Any) -> None:
        self.kind = kind
        super().__init__(*args, viewer=viewer, **kwargs)

    def prepare(self) -> None:
        """Only what this kind needs, in its order; a teacher speaks for nobody else."""
        wanted = [name for name in FIELDS[self.kind] if name != "teacher" or not self.viewer.is_teacher]
        self.fields = {name: self.fields[name] for name in wanted}
        for name, field in self.fields.items():
            field.label = LABELS.get(self.kind, {}).get(name, field.label)
            field.help_text = HELP.get(self.kind, {}).get(name, field.help_text)
            field.required = name in {"first_date", "space", "school_class", "student"}
        if "teacher" in self.fields:
            self.fields["teacher"].required = True
        if self.kind is HappeningKind.LATE:
            self.fields["minutes"].required = True
        self._name_students()
        self._name_spaces()
        buildings = self.fields.get("buildings")
        if isinstance(buildings, RowsField):
            schools = Building.objects.visible_to(self.viewer).exclude(level=Building.Level.BASE)
            buildings.queryset = schools.order_by("name")

    def _name_students(self) -> None:
        """By name, for whoever may know it."""
        choice = self.fields.get("student")
        if choice is not None:
            names = student_names(self.viewer).full
            choice.label_from_instance = lambda one: names.get(one.pk, str(one))  # type: ignore[attr-defined]  # Django's way

    def _name_spaces(self) -> None:
        """With their schools: each of these has a gym."""
        choice = self.fields.get("space")
        if isinstance(choice, forms.ModelChoiceField) and choice.queryset is not None:
            choice.queryset = choice.queryset.select_related("building").order_by("building__name", "name")
            choice.label_from_instance = lambda one: f"{one.building.name}: {one.name}"  # type: ignore[method-assign,assignment]  # Django's way

    @property
    def values(self) -> dict[str, Any]:
        """What the service takes."""
        given = {name: value for name, value in self.cleaned_data.items() if name != "buildings"}
        return {"kind": self.kind.value, **given}

    @property
    def chosen(self) -> list[Building]:
        """The schools that were ticked."""
        return list(self.cleaned_data.get("buildings") or ())


def kinds_of(viewer: Person) -> list[tuple[str, list[tuple[str, str, str]]]]:
    """What the viewer may say, in groups: each kind's value, its words, and what it is about."""
    mine = viewer.is_teacher
    groups = [
        ("You" if mine else "A teacher", (HappeningKind.AWAY, HappeningKind.LATE, HappeningKind.AIDE_MISSING)),
        ("Schools", tuple(one for one in HappeningKind if one in OF_SCHOOLS)),
        (
            "Students and spaces",
            (HappeningKind.STUDENT_ABSENT, HappeningKind.CLASS_AWAY, HappeningKind.SPACE_TAKEN),
        ),
    ]
    return [(title, [(kind.value, KIND_WORDS[kind], ABOUT[kind]) for kind in kinds]) for title, kinds in groups]


ABOUT = {
    HappeningKind.AWAY: "a day, part of it, or several",
    HappeningKind.LATE: "so many minutes",
    HappeningKind.CLOSED: "one, several, or all",
    HappeningKind.DELAYED_OPENING: "at a time, or by hours",
    HappeningKind.EARLY_DISMISSAL: "at a time, or by hours",
    HappeningKind.SPACE_TAKEN: "such as the gym, for an assembly",
    HappeningKind.CLASS_AWAY: "such as on a trip",
    HappeningKind.STUDENT_ABSENT: "today, or until a date",
    HappeningKind.AIDE_MISSING: "with or without the sessions",
}
