"""The plain way, as it is done with a map on the wall: each building goes to the nearest base that has time left.

Buildings with the longest drive to their nearest base go first. The bundles of a building stay together as far as
the nearest teacher's time lasts; what is left goes to the next nearest. Time is the contract days less lunch,
blocks and preparation, less a drive from the base to each new building and back: a sum, no week.
"""

from collections.abc import Iterable

from schedule.planner.assign.bundles import Bundle, bundles
from schedule.planner.assign.question import Itinerant, Staffing


def nearest_base(question: Staffing, *, usable: float = 0.85) -> dict[str, str]:
    """Teacher id by service id; services that nobody may have, or has time for by contract, are left out.

    ``usable``: the share of the time that counts as time, since bells leave pieces that nothing fits into.
    """
    plain = _Plain(question, usable)
    for part in plain.in_order(bundles(question)):
        plain.give(part)
    return {service: teacher for teacher, services in plain.given.items() for service in services}


def room_of(teacher: Itinerant) -> int:
    """Minutes a week for sessions and driving: contract days less lunch, blocks and preparation."""
    return sum(
        day.end
        - day.start
        - (day.lunch.minutes if day.lunch else 0)
        - sum(block.end - block.start for block in day.blocks)
        - day.preparation_minutes
        for day in teacher.days
    )


class _Plain:
    def __init__(self, question: Staffing, usable: float) -> None:
        self.question = question
        self.given: dict[str, list[str]] = {one.id: [] for one in question.teachers}
        self.room = {one.id: usable * room_of(one) for one in question.teachers}
        self.contract = {one.id: one.most_minutes for one in question.teachers}
        self.visits: dict[tuple[str, str], int] = {}

    def in_order(self, parts: Iterable[Bundle]) -> list[Bundle]:
        """Far buildings first, each building's bundles one after the other."""
        return sorted(
            (one for one in parts if one.allowed),
            key=lambda one: (len(one.allowed), -self._nearest(one), one.places, -one.minutes),
        )

    def _nearest(self, part: Bundle) -> int:
        return min(self._away(one, part) for one in part.allowed)

    def _away(self, teacher: str, part: Bundle) -> int:
        base = self.question.teacher(teacher).base
        drives = self.question.drive_minutes
        return sum(drives[base][place] + drives[place][base] for place in part.places if place != base)

    def _needs(self, teacher: str, part: Bundle) -> int:
        """Minutes of the bundle with the drives that it adds."""
        more = 0
        for place in part.places:
            days = max(one.sessions for one in part.services if one.place == place)
            more += max(0, days - self.visits.get((teacher, place), 0)) * self._one_way(teacher, place)
        return part.minutes + more

    def _one_way(self, teacher: str, place: str) -> int:
        base, site = self.question.teacher(teacher).base, self.question.site(place).place
        return 0 if place == base else self.question.drive_minutes[base][place] + site.arrive_minutes

    def give(self, part: Bundle) -> None:
        """To the nearest who has time; to whoever has most time where nobody has enough."""
        legal = [one for one in part.allowed if self._contract_holds(one, part)]
        if not legal:
            return
        fits = [one for one in legal if self.room[one] >= self._needs(one, part)]
        chosen = (
            min(fits, key=lambda one: self._away(one, part))
            if fits
            else max(legal, key=lambda one: self.room[one] - self._needs(one, part))
        )
        self._take(chosen, part)

    def _contract_holds(self, teacher: str, part: Bundle) -> bool:
        left = self.contract[teacher]
        return left is None or left >= part.minutes

    def _take(self, teacher: str, part: Bundle) -> None:
        self.room[teacher] -= self._needs(teacher, part)
        left = self.contract[teacher]
        self.contract[teacher] = None if left is None else left - part.minutes
        self.given[teacher].extend(one.id for one in part.services)
        for place in part.places:
            days = max(one.sessions for one in part.services if one.place == place)
            self.visits[teacher, place] = max(days, self.visits.get((teacher, place), 0))
