"""What names a period of a building's bells, and what happens to it when the period gets another name or goes.

Times when a space is free, when a class meets and when a student can't be taken name periods by text. A name that
is in none of the building's bells anymore would silently mean no time at all: a student would look free in a
protected hour. So a renamed period is renamed wherever it is named, and one that is named can't be taken out of the
last bells that have it. Bells that are over keep their names.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import models

from accounts.models import Person
from accounts.services import audit_write, district_of
from caseload.plans.models import StudentHold
from caseload.plans.names import student_names
from schedule.calendar.models import BellPeriod, BellSchedule, ClassMeeting, SpaceFreeTime
from schedule.calendar.selectors.bells import sets_at
from travel.places.models import Building

MOST_LISTED = 6


def names_of(building: Building, name: str) -> list[models.Model]:
    """Rows of a building that name a period."""
    found: list[models.Model] = []
    found += SpaceFreeTime.objects.filter(space__building=building, period__iexact=name).select_related("space")
    found += ClassMeeting.objects.filter(school_class__building=building, period__iexact=name).select_related(
        "school_class"
    )
    found += StudentHold.objects.filter(student__building=building, period__iexact=name).select_related("student")
    return found


@dataclass(frozen=True, slots=True)
class _Place:
    """The set that is written: of which schedule, and from which day on."""

    schedule: BellSchedule
    first: dt.date | None
    today: dt.date

    def others(self, name: str, day: dt.date) -> list[BellPeriod]:
        """Periods of that name in the building's other sets, those left out that are over on a day."""
        mine = (self.schedule.pk, self.first)
        sets = (one for one in sets_at(self.schedule.building) if (one.schedule_id, one.first) != mine)
        every = (period for one in sets if not one.is_over(day) for period in one.periods)
        return [period for period in every if period.name.casefold() == name.casefold()]


def periods_follow(
    *,
    actor: Person,
    row: BellSchedule,
    before: Sequence[BellPeriod],
    after: Sequence[BellPeriod],
    first: dt.date | None,
    today: dt.date,
) -> None:
    """Keep what names the periods of `row` in step; call it in the transaction that has replaced them.

    `first`: from when the set rings that was written. A period that kept its times, or its place among as many,
    and has a name that is new is taken for the old one renamed. Raises `ValidationError` (``periods``) if a name
    that is needed would be gone from all bells.
    """
    place = _Place(row, first, today)
    old = {period.name.casefold(): period for period in before}
    new = {period.name.casefold(): period for period in after}
    lost = [period for name, period in old.items() if name not in new]
    fresh = [period for name, period in new.items() if name not in old]
    problems: list[str] = []
    for period in lost:
        problems += _follow(actor, place, period, _renamed(period, fresh, before, after))
    if problems:
        raise ValidationError({"periods": list(student_names(actor).all_told(problems))})


def _follow(actor: Person, place: _Place, lost: BellPeriod, renamed: BellPeriod | None) -> list[str]:
    """Give what names a lost period the new name; the problems with it."""
    needed_by = names_of(place.schedule.building, lost.name)
    if not needed_by:
        return []
    if renamed is not None:
        return list(_rename(actor, place, lost.name, renamed.name, needed_by))
    rings = place.others(lost.name, max(place.first or place.today, place.today))
    return [] if rings else [_still_needed(lost.name, needed_by)]


def bells_may_go(actor: Person, row: BellSchedule, today: dt.date) -> str:
    """Why a bell schedule can't be deleted because of its periods' names; empty if it can."""
    others = [one for one in sets_at(row.building) if one.schedule_id != row.pk and not one.is_over(today)]
    kept = {period.name.casefold() for one in others for period in one.periods}
    for name in dict.fromkeys(period.name for period in row.periods.all()):
        needed_by = names_of(row.building, name)
        if needed_by and name.casefold() not in kept:
            return student_names(actor).told(_still_needed(name, needed_by))
    return ""


def _renamed(
    period: BellPeriod, fresh: Sequence[BellPeriod], before: Sequence[BellPeriod], after: Sequence[BellPeriod]
) -> BellPeriod | None:
    for other in fresh:
        if (other.start, other.end) == (period.start, period.end):
            return other
    if len(before) != len(after):
        return None
    place = sorted(before, key=_by_time).index(period)
    same_place = sorted(after, key=_by_time)[place]
    return same_place if same_place in fresh else None


def _by_time(period: BellPeriod) -> tuple[object, object]:
    return period.start, period.end


def _rename(actor: Person, place: _Place, old: str, new: str, needed_by: Sequence[models.Model]) -> list[str]:
    """Rename in the building's other bells and in every row that names it; problems instead where it can't be."""
    others = place.others(old, place.today)
    theirs = {(one.schedule_id, one.first_day) for one in others}
    taken = next((o for o in place.others(new, place.today) if (o.schedule_id, o.first_day) in theirs), None)
    if taken is not None:
        text = (
            f"“{old}” can't become “{new}”: the bells {taken.schedule.name} have both, and "
            f"{_listed(needed_by)} name “{old}”. Choose a name that no other bells of this building have."
        )
        return [text]
    district = district_of(place.schedule)
    for one in others:
        one.name = new
        one.save(update_fields=["name"])
    for changed in needed_by:
        changed.period = new  # type: ignore[attr-defined]  # names_of finds only rows that have one
        changed.save(update_fields=["period"])
        audit_write(
            actor=actor, district=district, action="period_rename", row=changed, changes={"period": [old, new]}
        )
    return []


def _still_needed(name: str, needed_by: Sequence[models.Model]) -> str:
    return (
        f"“{name}” is still named by {_listed(needed_by)}. Keep the period, or give those another period or clock "
        "times first."
    )


def _listed(rows: Sequence[models.Model]) -> str:
    words = [_words(row) for row in rows[:MOST_LISTED]]
    if len(rows) > MOST_LISTED:
        words.append(f"{len(rows) - MOST_LISTED} more")
    return " and ".join(filter(None, [", ".join(words[:-1]), words[-1]]))


def _words(row: models.Model) -> str:
    """A row by what it belongs to; students by their marked codes."""
    if isinstance(row, SpaceFreeTime):
        return f"a free time of {row.space}"
    if isinstance(row, ClassMeeting):
        return f"the physical education of {row.school_class.name}"
    if isinstance(row, StudentHold):
        return f"a time when {row.student.marked_code} can't be taken"
    return str(row)
