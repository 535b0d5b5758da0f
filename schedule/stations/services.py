"""Writes of stations and of who is where. Each raises `ValidationError` by field, or `ApplicationError`."""

import uuid
from collections.abc import Collection, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import (
    NOT_THERE,
    audit_write,
    permission_require,
    record_bring_back,
    record_change,
    record_put_away,
    record_remove,
)
from caseload.progress.models import StudentGoal
from schedule.equipment.models import Equipment
from schedule.stations.choices import RotationChoices, choices_json, choices_problem
from schedule.stations.models import Station, StationEquipment, StationGoal, StationRotation
from schedule.stations.pictures import picture_kind
from schedule.stations.rotation.asked import Arrangement, HelpBy, RotationAsked, RotationFound
from schedule.stations.rotation.clashing import RotationClash, rotation_clash
from schedule.stations.rotation.judging import rotation_judge
from schedule.stations.rotation.keeping import KeptRotation, rotation_json, rotation_read
from schedule.stations.rotation.solving import ChangeAim, rotation_solve
from schedule.stations.selectors.asking import (
    ClassHour,
    class_hour,
    rotation_asked,
    rotation_now,
    rotations_of,
    stations_for,
)

SHARED = "district.change"
WRITE = "log.write"
NOT_HERE = "Choose among today's stations, students and rounds."
NOTHING_YET = "There is no rotation for this session yet. Make one first."


def station_save(*, actor: Person, row: Station, values: Mapping[str, Any]) -> Station:
    """Save a station. `goals`, if given, are those of students whom the actor sees; others' stay as they are.

    `needs`, if given, is all the equipment that it takes: how many, by the equipment's id.
    """
    own = {name: value for name, value in values.items() if name not in {"goals", "needs"}}
    with transaction.atomic():
        saved = record_change(actor=actor, row=row, values=own, action="station_save", permission=SHARED)
        if "goals" in values:
            _goals_set(actor, saved, values["goals"])
        if "needs" in values:
            _needs_set(actor, saved, values["needs"])
    return saved


def _goals_set(actor: Person, station: Station, goals: Collection[StudentGoal]) -> None:
    wanted = {one.pk for one in goals}
    if StudentGoal.objects.changeable_by(actor).filter(pk__in=wanted).count() != len(wanted):
        raise ValidationError({"goals": "Choose among your students' goals."}, code="not_listed")
    rows = StationGoal.objects.changeable_by(actor).filter(station=station)
    kept = set(rows.values_list("goal_id", flat=True))
    rows.exclude(goal__in=wanted).delete()
    StationGoal.objects.bulk_create(StationGoal(station=station, goal_id=pk) for pk in sorted(wanted - kept))
    if kept != wanted:
        changes = {"goals": [sorted(kept), sorted(wanted)]}
        audit_write(actor=actor, district=station.district, action="station_goals", row=station, changes=changes)


def _needs_set(actor: Person, station: Station, needs: Mapping[int, int]) -> None:
    kept = {need.equipment_id: need for need in station.needs.all()}
    for pk in set(kept) - set(needs):
        station_need_delete(actor=actor, row=kept[pk])
    for equipment in Equipment.objects.changeable_by(actor).filter(pk__in=list(needs)):
        row = kept.get(equipment.pk) or StationEquipment(station=station)
        station_need_save(actor=actor, row=row, values={"equipment": equipment, "count": needs[equipment.pk]})


def station_put_away(*, actor: Person, row: Station) -> None:
    """Take a station out of the lists; rotations that were made with it keep it. `station_bring_back` undoes it."""
    record_put_away(actor=actor, row=row, action="station_put_away", permission=SHARED)


def station_bring_back(*, actor: Person, row: Station) -> Station:
    """Put it into the lists again."""
    return record_bring_back(actor=actor, row=row, action="station_bring_back", permission=SHARED)


def station_picture_set(*, actor: Person, row: Station, data: bytes) -> Station:
    """Give a station its own picture, or take it away (no bytes). `station_picture_bring_back` undoes it."""
    _picture_require(actor, row)
    before = (row.picture, row.picture_kind)
    row.picture, row.picture_kind = data or None, picture_kind(data)
    row.clean()
    row.picture_before, row.picture_kind_before = before
    return _picture_saved(actor, row, "station_picture")


def station_picture_bring_back(*, actor: Person, row: Station) -> Station:
    """Use the picture from before again; the one that it takes the place of can be brought back in turn.

    Raises `ApplicationError` (409) where no picture was replaced or taken away.
    """
    _picture_require(actor, row)
    if not row.picture_before:
        raise ApplicationError("There is no picture from before.", code="no_picture_before", status=409)
    now = (row.picture, row.picture_kind)
    row.picture, row.picture_kind = row.picture_before, row.picture_kind_before
    row.picture_before, row.picture_kind_before = now
    return _picture_saved(actor, row, "station_picture_bring_back")


def _picture_require(actor: Person, row: Station) -> None:
    permission_require(actor, SHARED)
    if not Station.objects.changeable_by(actor).filter(pk=row.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)


def _picture_saved(actor: Person, row: Station, action: str) -> Station:
    sizes = [len(one or b"") for one in (row.picture_before, row.picture)]
    with transaction.atomic():
        row.save(update_fields=["picture", "picture_kind", "picture_before", "picture_kind_before"])
        audit_write(actor=actor, district=row.district, action=action, row=row, changes={"picture": sizes})
    return row


def station_need_save(*, actor: Person, row: StationEquipment, values: Mapping[str, Any]) -> StationEquipment:
    """Save what equipment a station takes."""
    return record_change(actor=actor, row=row, values=values, action="station_need_save", permission=SHARED)


def station_need_delete(*, actor: Person, row: StationEquipment) -> None:
    """Let a station do without some equipment."""
    record_remove(actor=actor, row=row, action="station_need_delete", permission=SHARED)


def station_goal_save(*, actor: Person, row: StationGoal, values: Mapping[str, Any]) -> StationGoal:
    """Let a station serve a goal."""
    return record_change(actor=actor, row=row, values=values, action="station_goal_save", permission=SHARED)


def station_goal_delete(*, actor: Person, row: StationGoal) -> None:
    """Let a station serve a goal no longer."""
    record_remove(actor=actor, row=row, action="station_goal_delete", permission=SHARED)


# ---- who is where -----------------------------------------------------------------------------------------


def rotation_make(
    *, actor: Person, session: uuid.UUID, choices: RotationChoices, aim: ChangeAim | None = None
) -> StationRotation:
    """Work a session's rotation out and keep it as the next version.

    With an `aim` it stays near the version that is used, if there is one; without, it is worked out anew.
    """
    permission_require(actor, WRITE)
    hour = class_hour(actor, session)
    asked = _asked(actor, hour, choices)
    now = rotation_now(actor, session)
    before = _before(asked, now) if now is not None and (aim is not None or choices.done) else None
    with ThreadPoolExecutor(max_workers=2) as beside:
        other, clash = beside.submit(_other_way, asked), beside.submit(rotation_clash, asked)
        found = _solved(asked, before, aim or ChangeAim.GOALS)
    content = _content(asked, choices, found, other.result(), clash.result())
    return _version(actor, hour, content, "rotation_make")


def _asked(actor: Person, hour: ClassHour, choices: RotationChoices) -> RotationAsked:
    stations = {one.pk: one for one in stations_for(actor).filter(pk__in=choices.stations)}
    problems = choices_problem(choices, hour.minutes)
    if set(choices.stations) - set(stations):
        problems["stations"] = "Choose among the district's stations."
    if problems:
        raise ValidationError(problems)
    if not hour.students:
        raise ValidationError("Nobody is planned in this session, so nobody comes to a station.")
    try:
        return rotation_asked(hour, choices, stations)
    except ValueError as error:
        raise ValidationError(NOT_HERE) from error


def _before(asked: RotationAsked, now: StationRotation) -> Arrangement:
    """The version in use, as far as today's stations, students and adults are still in it."""
    was = rotation_read(now.content, {}).arrangement
    stations, cells = {one.key for one in asked.stations}, set(asked.cells)
    at = {cell: where for cell, where in was.at.items() if cell in cells and (where is None or where in stations)}
    return Arrangement(at, {one.key: was.posts[one.key] for one in asked.adults if one.key in was.posts})


def _solved(asked: RotationAsked, before: Arrangement | None, aim: ChangeAim) -> RotationFound:
    """What the search found, once the judge has let it pass."""
    found = rotation_solve(asked, before, aim=aim)
    broken = {str(one.rule) for one in rotation_judge(asked, found.arrangement) if not one.is_counted}
    if broken:
        raise RuntimeError(f"A rotation breaks {sorted(broken)}.")
    return found


def _content(
    asked: RotationAsked,
    choices: RotationChoices,
    found: RotationFound,
    other: RotationFound | None,
    clash: RotationClash | None,
) -> dict[str, Any]:
    """A version: what was found, what the other way of helping gives, what clashes where something is missed."""
    proofs = (found.proved, found.walks_proved, found.changes)
    kept = KeptRotation(asked, found.arrangement, choices.minutes, *proofs)
    misses = bool(found.figures.beside or found.figures.over or found.figures.missed)
    return {
        **rotation_json(kept),
        "choices": choices_json(choices),
        "other": None if other is None else rotation_json(KeptRotation(asked, other.arrangement, choices.minutes)),
        "clash": _clash_kept(clash) if misses and clash is not None else None,
    }


def _other_way(asked: RotationAsked) -> RotationFound | None:
    """The rotation with adults doing the other thing; None where nobody is free to, or the hour has begun."""
    if asked.done or not any(one.own_student is None and one.leads is None for one in asked.adults):
        return None
    way = HelpBy.WITH_STUDENTS if asked.help_by is HelpBy.AT_STATIONS else HelpBy.AT_STATIONS
    return rotation_solve(asked.with_help(way))


def _clash_kept(clash: RotationClash) -> dict[str, Any]:
    wishes = [[one.rule.value, list(one.students), one.station] for one in clash.wishes]
    return {"smallest": clash.smallest, "wishes": wishes}


def _version(actor: Person, hour: ClassHour, content: dict[str, Any], action: str) -> StationRotation:
    with transaction.atomic():
        last = StationRotation.objects.filter(session_uid=hour.uid).order_by("-number").first()
        row = StationRotation(
            district=actor.district,
            teacher=hour.teacher,
            session_uid=hour.uid,
            date=hour.date,
            school_class_id=hour.class_id,
            number=last.number + 1 if last is not None else 1,
            content=content,
            made_by=actor,
        )
        row.full_clean()
        row.save()
        audit_write(actor=actor, district=row.district, action=action, row=row)
    return row


def rotation_move(
    *, actor: Person, session: uuid.UUID, student: int, turn: int, station: int | None
) -> StationRotation:
    """Put one student elsewhere in one round (counted from 1) by hand.

    What that breaks is said beside it (`rotation_view`); the teacher decides.
    """
    permission_require(actor, WRITE)
    hour = class_hour(actor, session)
    now = rotation_now(actor, session)
    if now is None:
        raise ApplicationError(NOTHING_YET, code="no_rotation", status=409)
    kept = rotation_read(now.content, {})
    at = dict(kept.arrangement.at)
    cell = (student, turn - 1)
    if cell not in at or station not in {None, *(one.key for one in kept.asked.stations)}:
        raise ValidationError(NOT_HERE)
    at[cell] = station
    moved = replace(kept, arrangement=Arrangement(at, kept.arrangement.posts), by_hand=True)
    return _version(actor, hour, {**now.content, **rotation_json(moved)}, "rotation_move")


def rotation_take_back(*, actor: Person, session: uuid.UUID) -> StationRotation | None:
    """Go back to the version before; the one that is used now, or None where there was none."""
    permission_require(actor, WRITE)
    class_hour(actor, session)
    with transaction.atomic():
        now = rotation_now(actor, session)
        if now is None:
            raise ApplicationError(NOTHING_YET, code="no_rotation", status=409)
        now.taken_back_at = timezone.now()
        now.save(update_fields=["taken_back_at"])
        audit_write(actor=actor, district=now.district, action="rotation_take_back", row=now)
    return rotation_now(actor, session)


def rotation_bring_back(*, actor: Person, session: uuid.UUID) -> StationRotation:
    """Use the version again that was taken back last."""
    permission_require(actor, WRITE)
    class_hour(actor, session)
    with transaction.atomic():
        rows = rotations_of(actor, session)
        now = rows.standing().first()
        gone = rows.filter(taken_back_at__isnull=False).order_by("-taken_back_at").first()
        if gone is None or (now is not None and gone.number < now.number):
            raise ApplicationError("Nothing was taken back last.", code="nothing_taken_back", status=409)
        gone.taken_back_at = None
        gone.save(update_fields=["taken_back_at"])
        audit_write(actor=actor, district=gone.district, action="rotation_bring_back", row=gone)
    return gone
