"""A rotation as pages, cards and the API show it, with students called as the viewer may know them."""

import datetime as dt
import uuid
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from accounts.models import Person
from caseload.plans.names import student_names
from schedule.stations.models import StationRotation
from schedule.stations.rotation.asked import (
    HelpBy,
    Post,
    RotationAsked,
    RotationFound,
    RotationRule,
)
from schedule.stations.rotation.clashing import RotationClash
from schedule.stations.rotation.judging import figures_of, rotation_judge
from schedule.stations.rotation.keeping import KeptRotation, rotation_read
from schedule.stations.rotation.wishes import Wish
from schedule.stations.rotation.words import (
    HELP_WORDS,
    broken_words,
    clash_words,
    difference_words,
    figures_words,
    found_words,
)
from schedule.stations.selectors.asking import (
    ClassHour,
    class_hours_with_rotation,
    rotation_now,
    rotations_of,
)
from schedule.stations.selectors.beginning import choices_of


@dataclass(frozen=True, slots=True)
class PlacedStudent:
    """A student at a place in a round. ``goal``: the station serves a goal of the student."""

    student: int
    name: str
    goal: bool = False


@dataclass(frozen=True, slots=True)
class StationTurn:
    """One station in one round: who is there, and which adults."""

    station: int
    name: str
    students: tuple[PlacedStudent, ...]
    adults: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RotationRound:
    """One round with its clock times, local to the building."""

    number: int
    begins: str
    ends: str
    stations: tuple[StationTurn, ...]
    waiting: tuple[PlacedStudent, ...]
    is_over: bool


@dataclass(frozen=True, slots=True)
class AdultPost:
    """What an adult does all hour, in a clause, and where that is round by round (empty: where needed)."""

    adult: int
    name: str
    does: str
    stations: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RotationView:
    """Who is where in a session, what it gives, and what it breaks.

    ``idle``: stations to which nobody comes. ``other``: what the other way of helping would give, in figures.
    ``clash``: wishes of which not all can hold.
    """

    session: uuid.UUID
    date: dt.date
    version: int
    title: str
    minutes: int
    help_by: HelpBy
    help_words: str
    rounds: tuple[RotationRound, ...]
    idle: tuple[str, ...]
    adults: tuple[AdultPost, ...]
    figures: str
    broken: tuple[str, ...]
    missed: tuple[str, ...]
    other: str
    clash_said: str
    clash: tuple[str, ...]
    changes: int
    by_hand: bool
    made_by: str
    made_at: dt.datetime
    can_bring_back: bool


def rotation_view(viewer: Person, hour: ClassHour) -> RotationView | None:
    """The version that is used; None where there is none."""
    row = rotation_now(viewer, hour.uid)
    if row is None:
        return None
    kept = kept_for(viewer, row)
    asked, choices = kept.asked, choices_of(row)
    missed, broken = _told(kept)
    said, clash = ("", ()) if kept.by_hand else _clash(asked, row.content["clash"])
    return RotationView(
        session=hour.uid,
        date=row.date,
        version=row.number,
        title=hour.title,
        minutes=kept.minutes,
        help_by=asked.help_by,
        help_words=HELP_WORDS[asked.help_by],
        rounds=tuple(_round(hour, kept, turn, choices.begins) for turn in range(asked.rounds)),
        idle=_idle(kept),
        adults=tuple(_post(kept, one.key, one.label) for one in asked.adults),
        figures=_figures(kept),
        broken=broken,
        missed=missed,
        other="" if kept.by_hand else _other(kept, row.content["other"]),
        clash_said=said,
        clash=clash,
        changes=kept.changes,
        by_hand=kept.by_hand,
        made_by=str(row.made_by),
        made_at=row.made_at,
        can_bring_back=rotation_taken_back(viewer, hour.uid),
    )


def rotations_shown(viewer: Person, uids: Collection[str]) -> dict[str, RotationView]:
    """By a session's uid its rotation, of those that have one; for pages that show it beside other things."""
    hours = class_hours_with_rotation(viewer, [uuid.UUID(one) for one in uids])
    found = ((hour.uid, rotation_view(viewer, hour)) for hour in hours)
    return {str(uid): view for uid, view in found if view is not None}


def _told(kept: KeptRotation) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What the judge says: goals without a turn, and everything else that is broken."""
    told = [(one.rule, broken_words(kept.asked, one)) for one in rotation_judge(kept.asked, kept.arrangement)]
    missed = tuple(words for rule, words in told if rule is RotationRule.GOALS)
    return missed, tuple(words for rule, words in told if rule is not RotationRule.GOALS)


def rotation_taken_back(viewer: Person, session: uuid.UUID) -> bool:
    """Whether the newest version was taken back and can be used again."""
    newest = rotations_of(viewer, session).first()
    return newest is not None and newest.taken_back_at is not None


def kept_for(viewer: Person, row: StationRotation) -> KeptRotation:
    """A version with the names that the viewer may see."""
    return rotation_read(row.content, student_names(viewer).full)


def _figures(kept: KeptRotation) -> str:
    if kept.by_hand:
        return f"{figures_words(kept.asked, figures_of(kept.asked, kept.arrangement))} Changed by hand."
    return found_words(kept.asked, _found(kept, kept.asked))


def _found(kept: KeptRotation, asked: RotationAsked) -> RotationFound:
    made = kept.arrangement
    return RotationFound(made, figures_of(asked, made), kept.proved, kept.walks_proved, kept.changes)


def _other(kept: KeptRotation, content: Mapping[str, Any] | None) -> str:
    if content is None:
        return ""
    other = rotation_read(content, {})
    return difference_words(kept.asked, _found(kept, kept.asked), _found(other, other.asked))


def _clash(asked: RotationAsked, content: Mapping[str, Any] | None) -> tuple[str, tuple[str, ...]]:
    if content is None:
        return "", ()
    wishes = tuple(
        Wish(RotationRule(rule), tuple(students), station) for rule, students, station in content["wishes"]
    )
    return clash_words(asked, RotationClash(wishes, content["smallest"]))


def _idle(kept: KeptRotation) -> tuple[str, ...]:
    """Stations to which nobody comes in the whole hour."""
    used = set(kept.arrangement.at.values())
    return tuple(one.label for one in kept.asked.stations if one.key not in used)


def _round(hour: ClassHour, kept: KeptRotation, turn: int, begins: int) -> RotationRound:
    asked, made = kept.asked, kept.arrangement
    here = [(one, made.at[one.key, turn]) for one in asked.students if (one.key, turn) in made.at]
    by_name = sorted(here, key=lambda pair: pair[0].label)
    return RotationRound(
        number=turn + 1,
        begins=hour.clock(begins + turn * kept.minutes),
        ends=hour.clock(begins + (turn + 1) * kept.minutes),
        stations=tuple(
            StationTurn(
                station.key,
                station.label,
                tuple(
                    PlacedStudent(one.key, one.label, station.key in one.wants)
                    for one, where in by_name
                    if where == station.key
                ),
                tuple(one.label for one in asked.adults if _where(kept, one.key, turn) == station.key),
            )
            for station in asked.stations
        ),
        waiting=tuple(PlacedStudent(one.key, one.label) for one, where in by_name if where is None),
        is_over=turn < asked.done,
    )


def _where(kept: KeptRotation, adult: int, turn: int) -> int | None:
    """The station at which an adult is in a round."""
    post = kept.arrangement.posts.get(adult, Post())
    return post.station if post.student is None else kept.arrangement.at.get((post.student, turn))


def _post(kept: KeptRotation, adult: int, name: str) -> AdultPost:
    asked, post = kept.asked, kept.arrangement.posts.get(adult, Post())
    names = {one.key: one.label for one in asked.stations}
    at = tuple(names.get(_where(kept, adult, turn) or -1, "") for turn in range(asked.rounds))
    if post.station is not None:
        return AdultPost(adult, name, f"at {names[post.station]} all hour", at)
    if post.student is None:
        return AdultPost(adult, name, "free to help where needed", at)
    who = asked.student(post.student).label
    return AdultPost(adult, name, f"stays with {who}" if post.one_to_one else f"goes along with {who}", at)
