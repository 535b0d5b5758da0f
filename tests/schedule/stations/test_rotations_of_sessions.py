"""Rotations of sessions: made, changed as little as possible, moved by hand, taken back, and who may see them."""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import AuditEntry, Substitution
from caseload.care.models import Caution, CautionTag, Contact, Support
from caseload.delivery.models import DeliveryVersion
from caseload.delivery.told import Outcome
from caseload.plans.models import ServiceLine, Student
from schedule.class_hour.models import Routine, RoutinePart
from schedule.stations.choices import AdultChoice, AskedAbout, StudentChoice
from schedule.stations.models import Station, StationGoal, StationRotation
from schedule.stations.rotation.solving import ChangeAim
from schedule.stations.selectors.asking import adults_known, class_hour, rotation_now, stations_for
from schedule.stations.selectors.beginning import choices_to_begin
from schedule.stations.selectors.cards import adult_cards, station_cards
from schedule.stations.selectors.showing import RotationView, rotation_view
from schedule.stations.services import (
    rotation_bring_back,
    rotation_make,
    rotation_move,
    rotation_take_back,
    station_picture_set,
    station_save,
)
from tests.api import Api
from tests.caseload.progress.builders import make_goal, make_point
from tests.schedule.builders import date
from tests.schedule.log_builders import log_session
from tests.schedule.stations.conftest import Gym

PNG = b"\x89PNG\r\n\x1a\n" + bytes(20)


def view_of(gym: Gym) -> RotationView:
    """As the teacher sees it."""
    view = rotation_view(gym.cast.teacher, class_hour(gym.cast.teacher, gym.session.uid))
    assert view is not None
    return view


def where(gym: Gym, turn: int) -> dict[str, str]:
    """By student the station in one round, as the page shows it."""
    shown = view_of(gym).rounds[turn - 1]
    at = {one.name: station.name for station in shown.stations for one in station.students}
    return at | {one.name: "waits" for one in shown.waiting}


def test_goals_with_the_oldest_data_have_the_turns(class_of_three: Gym) -> None:
    """Two turns at the beam for three students: who had data last week is the one without."""
    gym = class_of_three
    goal = StationGoal.objects.get(goal__student=gym.students[1]).goal
    make_point(goal, date(3), 3, gym.cast.teacher)
    gym.make()
    assert {where(gym, turn)[name] for turn, name in ((1, "Ada Tarn"), (2, "Ada Tarn"))} == {"Beam", "Throwing"}
    assert view_of(gym).missed == ("Ben Tarn doesn't come to Beam.",)
    assert view_of(gym).rounds[1].begins == "8:40"


def test_what_clashes_is_said_with_names_and_kept_without(class_of_three: Gym) -> None:
    """Three come to a beam for one in two rounds: four wishes, and the rounds are a fact."""
    class_of_three.make()
    view = view_of(class_of_three)
    assert view.clash_said == (
        "These 4 can't all hold. If one of them goes, the others can. No smaller set clashes."
    )
    assert "Cid Tarn comes to Beam" in view.clash
    assert "Tarn" not in str(StationRotation.objects.get().content)


def test_rounds_that_are_longer_than_the_class_are_refused(class_of_three: Gym) -> None:
    """With how many fit."""
    with pytest.raises(ValidationError, match="at most 3 rounds fit"):
        class_of_three.make(rounds=4)
    with pytest.raises(ValidationError, match="at least one station"):
        class_of_three.make(stations=())
    assert not StationRotation.objects.exists()


def test_a_caution_bars_until_somebody_was_asked(class_of_three: Gym) -> None:
    """And what is said is whom to ask, never that it may be."""
    gym = class_of_three
    tag = CautionTag.objects.get_or_create(district=gym.cast.district, name="height")[0]
    gym.beam.tags.add(tag)
    Caution.objects.create(student=gym.students[0], text="Falls.", kind="physical").tags.add(tag)
    gym.make()
    assert where(gym, 1)["Ada Tarn"] != "Beam" != where(gym, 2)["Ada Tarn"]
    asked = (AskedAbout(gym.students[0].pk, gym.beam.pk),)
    gym.make(asked=asked, students=tuple(StudentChoice(one.pk, here=False) for one in gym.students[1:]))
    assert "Beam" in {where(gym, 1)["Ada Tarn"], where(gym, 2)["Ada Tarn"]}


def test_students_kept_apart_by_their_supports_are_apart(class_of_three: Gym) -> None:
    """As the support says, on the days on which it holds."""
    gym = class_of_three
    Support.objects.create(
        student=gym.students[0], other_student=gym.students[1], kind=Support.Kind.APART, text="Apart."
    )
    gym.make(waits_at_most=1)
    for turn in (1, 2):
        at = where(gym, turn)
        assert at["Ada Tarn"] != at["Ben Tarn"] or at["Ada Tarn"] == "waits"


def test_aides_come_from_the_contacts_and_one_of_a_student_stays_there(class_of_three: Gym) -> None:
    """Cid's own aide is Cid's; without that aide somebody else stands in, or Cid waits."""
    gym = class_of_three
    own = Contact.objects.create(student=gym.students[2], role="aide", name="Ms. Wren Harrow", phone="1")
    hour = class_hour(gym.cast.teacher, gym.session.uid)
    assert [one.name for one in adults_known(hour)] == [str(gym.cast.teacher), "Ms. Wren Harrow"]
    gym.make()
    assert [one.does for one in view_of(gym).adults] == ["stays with Cid Tarn"]
    gone = AdultChoice(own.pk, own.name, here=False)
    gym.make(adults=(gone,))
    assert where(gym, 1)["Cid Tarn"] == "waits"
    gym.make(adults=(gone, AdultChoice(-1, "Mr. Vale")))
    assert [(one.name, one.does) for one in view_of(gym).adults] == [("Mr. Vale", "stays with Cid Tarn")]


def test_who_comes_late_changes_as_little_as_possible(class_of_three: Gym) -> None:
    """One student is away in the first round: that cell goes, the others stay."""
    gym = class_of_three
    gym.make()
    before = where(gym, 2)
    late = (StudentChoice(gym.students[0].pk, from_round=2),)
    made = rotation_make(
        actor=gym.cast.teacher,
        session=gym.session.uid,
        choices=gym.choices(students=late),
        aim=ChangeAim.FEWEST_CHANGES,
    )
    assert made.number == 2
    assert view_of(gym).changes == 0
    assert where(gym, 2) == before
    assert "Ada Tarn" not in where(gym, 1)


def test_a_move_by_hand_stands_with_what_it_breaks_and_is_taken_back(class_of_three: Gym) -> None:
    """Two at a beam for one; back, and used again."""
    gym, teacher = class_of_three, class_of_three.cast.teacher
    gym.make()
    first = view_of(gym)
    other = next(one for one in first.rounds[0].stations if one.name == "Throwing").students[0]
    rotation_move(actor=teacher, session=gym.session.uid, student=other.student, turn=1, station=gym.beam.pk)
    assert view_of(gym).broken == ("Round 1: Beam takes 1 at a time, and 2 are there.",)
    assert view_of(gym).by_hand
    rotation_take_back(actor=teacher, session=gym.session.uid)
    assert view_of(gym).rounds == first.rounds
    assert view_of(gym).can_bring_back
    rotation_bring_back(actor=teacher, session=gym.session.uid)
    assert view_of(gym).version == 2
    with pytest.raises(ApplicationError, match="Nothing was taken back"):
        rotation_bring_back(actor=teacher, session=gym.session.uid)
    with pytest.raises(ValidationError, match="Choose among"):
        rotation_move(actor=teacher, session=gym.session.uid, student=other.student, turn=9, station=None)
    assert AuditEntry.objects.filter(action__startswith="rotation_").count() == 4


def test_a_substitute_sees_it_while_standing_in_and_others_never(class_of_three: Gym) -> None:
    """The day and the dates of the substitution decide."""
    gym, cast = class_of_three, class_of_three.cast
    gym.make()
    for nobody in (cast.mate, cast.office, cast.substitute, cast.stranger):
        assert rotation_now(nobody, gym.session.uid) is None
        with pytest.raises(ApplicationError) as refused:
            class_hour(nobody, gym.session.uid)
        assert refused.value.status == 404
    Substitution.objects.create(
        teacher=cast.teacher,
        substitute=cast.substitute,
        first_date=dt.date(2020, 1, 1),
        last_date=dt.date(2090, 1, 1),
    )
    view = rotation_view(cast.substitute, class_hour(cast.substitute, gym.session.uid))
    assert view is not None
    assert view.rounds == view_of(gym).rounds


def test_cards_say_who_comes_when(class_of_three: Gym) -> None:
    """One for each station, one for each adult."""
    gym = class_of_three
    gym.make(adults=(AdultChoice(-1, "Mr. Vale", leads=gym.beam.pk),))
    view = view_of(gym)
    beam, throwing = station_cards(view)
    assert (beam.name, throwing.name) == ("Beam", "Throwing")
    assert all(line.text.endswith("; with Mr. Vale") for line in beam.lines)
    (aide,) = adult_cards(view)
    assert aide.does == "at Beam all hour"
    assert [line.begins for line in aide.lines] == ["8:30", "8:40"]


def test_another_teachers_students_goals_stay_when_a_station_is_saved(class_of_three: Gym) -> None:
    """A shared station: each teacher chooses among the own students' goals only."""
    gym, mate = class_of_three, class_of_three.cast.mate
    goal = make_goal(gym.cast.mates_student)
    station_save(actor=mate, row=gym.beam, values={"goals": [goal]})
    assert StationGoal.objects.filter(station=gym.beam).count() == 4
    assert [row.goal for row in stations_for(mate).get(pk=gym.beam.pk).goals.all()] == [goal]
    with pytest.raises(ValidationError, match="your students' goals"):
        station_save(actor=mate, row=gym.beam, values={"goals": [make_goal(gym.students[1])]})


@pytest.mark.parametrize(
    ("data", "words"),
    [(b"GIF89a" + bytes(20), "no picture"), (PNG + bytes(400_000), "more than 400 KB")],
)
def test_a_picture_is_told_by_its_bytes(class_of_three: Gym, data: bytes, words: str) -> None:
    """PNG, JPEG or WebP, and not too large."""
    gym = class_of_three
    with pytest.raises(ValidationError, match=words):
        station_picture_set(actor=gym.cast.teacher, row=gym.beam, data=data)
    station_picture_set(actor=gym.cast.teacher, row=gym.beam, data=PNG)
    gym.beam.refresh_from_db()
    assert gym.beam.picture_kind == "image/png"


def test_a_picture_that_was_replaced_comes_back(class_of_three: Gym) -> None:
    """And the other again, as often as one likes; a refused picture changes nothing."""
    gym, teacher = class_of_three, class_of_three.cast.teacher
    client = Client()
    client.force_login(teacher)
    at = reverse("station_picture_back", args=[gym.beam.pk])
    assert "There is no picture from before." in client.post(at, follow=True).content.decode()
    first, second = PNG + b"first", PNG + b"second"
    for data in (first, second):
        station_picture_set(actor=teacher, row=gym.beam, data=data)
    with pytest.raises(ValidationError):
        station_picture_set(actor=teacher, row=Station.objects.get(pk=gym.beam.pk), data=b"GIF89a")
    for wanted in (first, second):
        assert "The picture from before is back." in client.post(at, follow=True).content.decode()
        assert bytes(Station.objects.get(pk=gym.beam.pk).picture or b"") == wanted
    client.post(reverse("station_picture_change", args=[gym.beam.pk]), {"remove": "1"})
    assert not Station.objects.get(pk=gym.beam.pk).picture
    page = client.post(at, follow=True).content.decode()
    assert "Use the picture from before" not in page
    assert bytes(Station.objects.get(pk=gym.beam.pk).picture or b"") == second


def test_rounds_are_when_the_routine_has_its_stations(class_of_three: Gym) -> None:
    """Of a thirty-minute session: ten of warm-up, then twelve of stations; too many rounds are refused in words."""
    gym, teacher = class_of_three, class_of_three.cast.teacher
    routine = Routine.objects.create(district=gym.cast.district, teacher=teacher, name="Hour")
    routine.students.set(gym.students)
    for position, (kind, minutes) in enumerate((("warm_up", 10), ("stations", 12), ("cool_down", 8))):
        values = {"kind": kind, "minutes": minutes, "least_minutes": minutes, "position": position}
        RoutinePart.objects.create(routine=routine, **values)
    hour = class_hour(teacher, gym.session.uid)
    choices = choices_to_begin(teacher, hour, stations_for(teacher))
    assert (choices.begins, choices.rounds, choices.minutes) == (10, 2, 4)
    rotation_make(actor=teacher, session=gym.session.uid, choices=choices)
    view = rotation_view(teacher, hour)
    assert view is not None
    assert view.rounds[0].begins == hour.clock(10)
    with pytest.raises(ValidationError, match="20 of 30 left by then: at most 2 rounds fit"):
        gym.make(begins=10, rounds=3, minutes=8)


def test_a_station_for_nobody_is_told(class_of_three: Gym) -> None:
    """It needs two adults, and nobody helps today."""
    gym, teacher = class_of_three, class_of_three.cast.teacher
    lone = station_save(actor=teacher, row=Station(), values={"name": "Climbing", "staff": 2})
    gym.make(stations=(gym.beam.pk, gym.throwing.pk, lone.pk))
    view = rotation_view(teacher, class_hour(teacher, gym.session.uid))
    assert view is not None
    assert view.idle == ("Climbing",)
    client = Client()
    client.force_login(teacher)
    page = client.get(reverse("rotation", args=[gym.session.uid])).content.decode()
    assert "Nobody comes to Climbing: it needs no setting up today." in page


def offered(client: Client, at: str) -> dict[str, object]:
    """What the set-up form holds before anybody changes it, as a browser would send it."""
    fields = client.get(f"{at}set-up/").context["form"].fields.items()
    return {name: one.initial for name, one in fields if one.initial is not None and one.initial is not False}


def test_the_pages_from_set_up_to_cards(class_of_three: Gym, client: Client) -> None:
    """Set up, somebody is missing, moved by hand, taken back: each by what the forms send."""
    gym = class_of_three
    client.force_login(gym.cast.teacher)
    at = f"/sessions/{gym.session.uid}/stations/"
    assert "Set up today" in client.get(at).content.decode()
    sent = offered(client, at) | {"rounds": 2, "minutes": 10, "more_adults": "Mr. Vale\n"}
    refused = client.post(f"{at}set-up/", sent | {"rounds": 9})
    assert refused.status_code == 422
    assert "at most 3 rounds fit" in refused.content.decode()
    assert client.post(f"{at}set-up/", sent).status_code == 302
    text = client.get(at).content.decode()
    assert "Round 2" in text
    assert "Mr. Vale" in text
    absent = {f"student-{gym.students[0].pk}": "away", "aim": "fewest_changes"}
    assert client.post(f"{at}set-up/", offered(client, at) | absent).status_code == 302
    assert "Ada Tarn" not in {one.name for turn in view_of(gym).rounds for one in turn.waiting}
    moved = {"student": gym.students[1].pk, "turn": 1, "station": ""}
    assert client.post(f"{at}move/", moved).status_code == 302
    assert where(gym, 1)["Ben Tarn"] == "waits"
    client.post(f"{at}take-back/")
    assert where(gym, 1)["Ben Tarn"] != "waits"
    assert "One for the wall" in client.get(f"{at}cards/").content.decode()


def test_the_api_does_the_same(class_of_three: Gym) -> None:
    """Make, move, take back, look; what there isn't is refused."""
    gym, api = class_of_three, Api(class_of_three.cast.teacher)
    session = str(gym.session.uid)
    choices = {"stations": [gym.beam.pk, gym.throwing.pk], "rounds": 2, "minutes": 10}
    made = api.post("station-rotations/", session=session, choices=choices)
    assert made["version"] == 1
    api.post("station-rotations/", 400, session=session, choices=choices, near="never")
    api.post("station-rotations/", 400, session=session, choices={**choices, "speed": 1})
    again = api.post("station-rotations/", session=session, choices=choices, near="fewest_changes")
    assert (again["version"], again["changes"]) == (2, 0)
    student = gym.students[0].pk
    moved = api.post("station-rotations/move/", 200, session=session, student=student, turn=1, station=None)
    assert moved["by_hand"] is True
    api.post("station-rotations/take-back/", 204, session=session)
    assert api.post("station-rotations/look/", 200, session=session)["version"] == 2
    assert api.post("station-rotations/bring-back/", 200, session=session)["version"] == 3
    Api(gym.cast.mate).post("station-rotations/look/", 404, session=session)


def choice_of(page: str, student: Student) -> str:
    """The choice whether this student is here."""
    return page.partition(f'name="student-{student.pk}"')[2].partition("</select>")[0]


def test_whom_the_log_says_is_missing_is_not_here_at_first(class_of_three: Gym) -> None:
    """Also where stations stand already; it can be changed, and a log that is taken back no longer counts."""
    gym, ben = class_of_three, class_of_three.students[1]
    client = Client()
    client.force_login(gym.cast.teacher)
    path = f"/sessions/{gym.session.uid}/stations/set-up/"
    missing, said = '<option value="away" selected>Not here</option>', "Logged as missing this session"
    page = client.get(path).text
    assert missing not in choice_of(page, ben)
    line = ServiceLine.objects.get(plan__student=ben)
    log_session(gym.cast.teacher, gym.session, {line.pk: Outcome(0, "student_absent")})
    for make in (lambda: None, gym.make):
        make()
        page = client.get(path).text
        assert [one for one in gym.students if missing in choice_of(page, one)] == [ben]
        assert f"{said}, and so not here below: Ben Tarn." in page
    DeliveryVersion.objects.filter(entry__student=ben).update(delivered_minutes=None, reason=None)
    assert said not in client.get(path).text
