"""Forms of stations, and of what is said about today before a rotation is worked out."""

from collections.abc import Iterable
from typing import Any

from django import forms

from accounts.fields import RowsField
from accounts.forms import RecordForm
from caseload.progress.models import StudentGoal
from schedule.stations.choices import TEACHER, AdultChoice, AskedAbout, RotationChoices, StudentChoice
from schedule.stations.models import MOST_PICTURE_BYTES, Station, StationEquipment
from schedule.stations.rotation.asked import HelpBy
from schedule.stations.rotation.words import HELP_WORDS
from schedule.stations.selectors.asking import ClassHour

MOST_ROUNDS = 12


class StationForm(RecordForm):
    """A station with the goals that it serves."""

    class Meta:
        model = Station
        fields = ["name", "about", "activity", "at_a_time", "staff", "minutes", "space_note", "tags"]

    def prepare(self) -> None:
        """Let goals of the viewer's students be chosen, called by student and text."""
        rows = StudentGoal.objects.visible_to(self.viewer).select_related("student")
        field = RowsField(
            queryset=rows, required=False, widget=forms.CheckboxSelectMultiple, label="Goals that it serves"
        )
        field.label_from_instance = _goal_label  # type: ignore[method-assign,assignment]  # Django's hook
        self.fields["goals"] = field
        if self.instance.pk:
            self.initial["goals"] = list(rows.filter(stations__station=self.instance).values_list("pk", flat=True))
        self.fields["tags"].widget = forms.CheckboxSelectMultiple(choices=self.fields["tags"].choices)  # type: ignore[attr-defined]  # a choice of rows


def _goal_label(goal: StudentGoal) -> str:
    return f"{goal.student.first_name} {goal.student.last_name}: {goal.text[:80]}"


class StationNeedForm(RecordForm):
    """Equipment that a station takes."""

    class Meta:
        model = StationEquipment
        fields = ["equipment", "count"]


class PictureForm(forms.Form):
    """A picture from the teacher's own device."""

    picture = forms.FileField(
        help_text="Your own picture or photo of the equipment, with no student in it: PNG, JPEG or WebP, up to "
        f"{MOST_PICTURE_BYTES // 1000} KB.",
        error_messages={"required": "Choose a picture."},
        widget=forms.FileInput(attrs={"accept": "image/png,image/jpeg,image/webp"}),
    )


class ChoicesForm(forms.Form):
    """Today's stations, people and rules, one choice each, so that a thumb is enough."""

    rounds = forms.IntegerField(min_value=1, max_value=MOST_ROUNDS)
    minutes = forms.IntegerField(label="Minutes a round", min_value=1, max_value=60)
    begins = forms.IntegerField(
        label="Minutes before the first round",
        min_value=0,
        max_value=240,
        initial=0,
        required=False,
        help_text="Of this session. Where its routine has stations, when these are on.",
    )
    waits_at_most = forms.TypedChoiceField(label="How long may a student wait?", coerce=int)
    help_by = forms.ChoiceField(
        label="What aides do",
        choices=[(one.value, words) for one, words in HELP_WORDS.items()],
        widget=forms.RadioSelect,
        help_text="As the team agreed. Both are worked out, and the difference is said.",
    )
    once = forms.BooleanField(label="Nobody comes to a station twice", required=False)
    done = forms.TypedChoiceField(label="Rounds that are over already", coerce=int, required=False)
    more_adults = forms.CharField(
        required=False, label="Somebody else who helps today", help_text="One name a line.",
        widget=forms.Textarea(attrs={"rows": 2, "autocomplete": "off"}),
    )  # fmt: skip

    def __init__(
        self,
        *args: Any,
        hour: ClassHour,
        stations: Iterable[Station],
        adults: Iterable[AdultChoice],
        choices: RotationChoices,
        cautions: Iterable[tuple[int, int, str]] = (),
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.hour, self.stations, self.adults = hour, list(stations), list(adults)
        self._shared_fields(choices)
        for station in self.stations:
            self._station_field(station, choices)
        for adult in self.adults:
            self._adult_field(adult, choices)
        for student in hour.students:
            self._student_fields(student.student_id, student.who, choices)
        asked = {(one.student, one.station) for one in choices.asked}
        self.cautions = list(cautions)
        for who, where, label in self.cautions:
            self.fields[f"asked-{who}-{where}"] = forms.BooleanField(
                label=label, required=False, initial=(who, where) in asked
            )

    def _shared_fields(self, choices: RotationChoices) -> None:
        for name in ("rounds", "minutes", "begins", "waits_at_most", "once", "done"):
            self.fields[name].initial = getattr(choices, name)
        self.fields["help_by"].initial = choices.help_by.value
        waits = [(0, "Not at all"), *((one, _rounds(one)) for one in range(1, 4))]
        self.fields["waits_at_most"].choices = waits  # type: ignore[attr-defined]  # a choice field
        over = [(0, "None"), *((one, _rounds(one)) for one in range(1, MOST_ROUNDS))]
        self.fields["done"].choices = over  # type: ignore[attr-defined]  # a choice field

    def _station_field(self, station: Station, choices: RotationChoices) -> None:
        places = [("", "Not today"), *((str(one), f"Place {one}") for one in range(1, len(self.stations) + 1))]
        order = list(choices.stations)
        self.fields[f"station-{station.pk}"] = forms.ChoiceField(
            label=station.name,
            choices=places,
            required=False,
            initial=str(order.index(station.pk) + 1) if station.pk in order else "",
        )

    def _adult_field(self, adult: AdultChoice, choices: RotationChoices) -> None:
        does = [("helps", "Helps as needed"), ("away", "Not here")]
        if adult.key == TEACHER:
            does.insert(0, ("walks", "Walks around"))
        does += [(f"leads-{one.pk}", f"Stands at {one.name}") for one in self.stations]
        does += [(f"own-{one.student_id}", f"Only with {one.who}") for one in self.hour.students]
        said = choices.adult(adult.key) or adult
        self.fields[f"adult-{adult.key}"] = forms.ChoiceField(label=adult.name, choices=does, initial=_does(said))

    def _student_fields(self, key: int, who: str, choices: RotationChoices) -> None:
        said = choices.student(key)
        today = [("1", "Here"), ("away", "Not here")]
        today += [(str(one), f"Comes for round {one}") for one in range(2, MOST_ROUNDS + 1)]
        here = str(said.from_round) if said.here else "away"
        self.fields[f"student-{key}"] = forms.ChoiceField(label=who, choices=today, initial=here)
        self.fields[f"near-{key}"] = forms.BooleanField(
            label=f"An adult near {who}", required=False, initial=said.adult_near
        )

    def said(self) -> RotationChoices:
        """What was chosen."""
        values = self.cleaned_data
        shared = {name: values[name] for name in ("rounds", "minutes", "waits_at_most", "once")}
        asked = tuple(AskedAbout(who, at) for who, at, _ in self.cautions if values[f"asked-{who}-{at}"])
        return RotationChoices(
            stations=self._stations_said(),
            help_by=HelpBy(values["help_by"]),
            done=values["done"] or 0,
            begins=values["begins"] or 0,
            adults=(*(self._adult_said(one) for one in self.adults), *self._more_said()),
            students=tuple(self._student_said(one.student_id) for one in self.hour.students),
            asked=asked,
            **shared,
        )

    def _stations_said(self) -> tuple[int, ...]:
        """In the order of their places, then by name."""
        places = [(self.cleaned_data[f"station-{one.pk}"], one) for one in self.stations]
        placed = sorted((int(place), one.name, one.pk) for place, one in places if place)
        return tuple(pk for _, _, pk in placed)

    def _more_said(self) -> tuple[AdultChoice, ...]:
        """People who aren't among the contacts, each with a number below all that there are."""
        names = [line.strip() for line in self.cleaned_data["more_adults"].splitlines() if line.strip()]
        lowest = min([0, *(one.key for one in self.adults)])
        return tuple(AdultChoice(lowest - 1 - index, name[:80]) for index, name in enumerate(names[:10]))

    def _adult_said(self, adult: AdultChoice) -> AdultChoice:
        does, _, which = self.cleaned_data[f"adult-{adult.key}"].partition("-")
        return AdultChoice(
            adult.key,
            adult.name,
            here=does != "away",
            counts=does != "walks",
            own_student=int(which) if does == "own" else None,
            leads=int(which) if does == "leads" else None,
        )

    def _student_said(self, key: int) -> StudentChoice:
        today = self.cleaned_data[f"student-{key}"]
        near = self.cleaned_data[f"near-{key}"]
        if today == "away":
            return StudentChoice(key, here=False, adult_near=near)
        return StudentChoice(key, from_round=int(today), adult_near=near)

    def part(self, kind: str) -> list[forms.BoundField]:
        """The fields of one kind, for the template."""
        return [self[name] for name in self.fields if name.startswith(f"{kind}-")]

    @property
    def students_said(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        """Each student's two fields."""
        keys = [one.student_id for one in self.hour.students]
        return [(self[f"student-{key}"], self[f"near-{key}"]) for key in keys]

    @property
    def stations_said(self) -> list[forms.BoundField]:
        """Where each station stands."""
        return self.part("station")

    @property
    def adults_said(self) -> list[forms.BoundField]:
        """What each adult does."""
        return self.part("adult")

    @property
    def cautions_said(self) -> list[forms.BoundField]:
        """About whom and what somebody was asked."""
        return self.part("asked")

    def refuse(self, problems: dict[str, list[str]]) -> None:
        """Put what the service found wrong at the fields that there are, else at the top."""
        for name, said in problems.items():
            for one in said:
                self.add_error(name if name in self.fields else None, one)


def _rounds(count: int) -> str:
    return "1 round" if count == 1 else f"{count} rounds"


def _does(adult: AdultChoice) -> str:
    if not adult.here:
        return "away"
    if not adult.counts:
        return "walks"
    if adult.leads is not None:
        return f"leads-{adult.leads}"
    return f"own-{adult.own_student}" if adult.own_student is not None else "helps"


class StationMoveForm(forms.Form):
    """One student to another place in one round; an empty station means that the student waits."""

    student = forms.IntegerField(min_value=1)
    turn = forms.IntegerField(min_value=1, max_value=MOST_ROUNDS)
    station = forms.IntegerField(min_value=1, required=False)
