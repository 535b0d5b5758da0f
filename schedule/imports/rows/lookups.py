"""Codes and names in a file to saved rows that the importing person may see, or the nearest one in words."""

from collections.abc import Callable, Iterable
from typing import Any

from django.db.models import Model

from accounts.models import Person
from accounts.selectors import today_of
from caseload.plans.grades import GRADES, grade_called
from caseload.plans.models import SchoolClass, Student
from schedule.calendar.models import BellSchedule
from schedule.imports.files.values import CellError, cut_short, nearest
from travel.places.models import Building, Space

MOST_MEANT = 6
"""So many buildings are offered for a shorter form; with more it says too little to ask."""


class Lookups:
    """Finds rows by code; keeps what it has read until `forget` (after each table of an import)."""

    def __init__(self, actor: Person) -> None:
        """Everything is looked up as this person may change it."""
        self.actor = actor
        self._kept: dict[tuple[Any, ...], Any] = {}

    def forget(self) -> None:
        """Read everything again: a table was written."""
        self._kept.clear()

    def _by[M: Model](self, key: tuple[Any, ...], rows: Callable[[], Iterable[M]], name: str) -> dict[str, M]:
        """Rows by a field, without regard to capitals; read once."""
        if key not in self._kept:
            self._kept[key] = {str(getattr(row, name)).casefold(): row for row in rows()}
        found: dict[str, M] = self._kept[key]
        return found

    def _buildings(self) -> dict[str, Building]:
        return self._by(
            ("buildings",), lambda: Building.objects.visible_to(self.actor).select_related("district"), "code"
        )

    def find_building(self, code: str) -> Building | None:
        """A building by its code, or None."""
        return self._buildings().get(code.casefold())

    def building_code(self, text: str) -> str:
        """The code of the building that is called so, if one is and no other; else what was written.

        Rows that belong together are told by it: one may have the code and another the name.
        """
        if self.find_building(text) is not None:
            return text
        plain = " ".join(text.split()).casefold()
        called = [one.code for one in self._buildings().values() if " ".join(one.name.split()).casefold() == plain]
        return called[0] if len(called) == 1 else text

    def building(self, code: str) -> Building:
        """A building by its code. Raises CellError; its readings are names of which it may be a shorter form."""
        found = self.find_building(code)
        if found is None:
            names = [one.name for one in self._buildings().values()]
            # A code has no spaces: who writes a name is shown the names.
            known = names if " " in code else [one.code for one in self._buildings().values()]
            meant = [name for name in cut_short(code, names) if names.count(name) == 1]
            message = f"No building has the code or the name “{code}”."
            raise CellError(message, nearest(code, known), tuple(meant) if len(meant) <= MOST_MEANT else ())
        return found

    def find_space(self, building: Building, name: str) -> Space | None:
        """A space of a building by its name, or None."""
        return self._spaces(building).get(name.casefold())

    def _spaces(self, building: Building) -> dict[str, Space]:
        return self._by(
            ("spaces", building.pk),
            lambda: Space.objects.filter(building=building).select_related("building__district"),
            "name",
        )

    def space(self, building: Building, name: str) -> Space:
        """A space of a building by its name. Raises CellError."""
        found = self.find_space(building, name)
        if found is None:
            names = [space.name for space in self._spaces(building).values()]
            raise _unknown(f"{building.name} has no space “{name}”.", name, names)
        return found

    def find_class(self, building: Building, code: str) -> SchoolClass | None:
        """A class of a building by its code, or None."""
        return self._classes(building).get(code.casefold())

    def _classes(self, building: Building) -> dict[str, SchoolClass]:
        return self._by(
            ("classes", building.pk),
            lambda: SchoolClass.objects.filter(building=building).select_related("building__district"),
            "code",
        )

    def school_class(self, building: Building, code: str) -> SchoolClass:
        """A class of a building by its code. Raises CellError."""
        found = self.find_class(building, code)
        if found is None:
            codes = [one.code for one in self._classes(building).values()]
            raise _unknown(f"{building.name} has no class with the code “{code}”.", code, codes)
        return found

    def find_student(self, code: str) -> Student | None:
        """A student by their code, or None."""
        return self._students().get(code.casefold())

    def students_known(self) -> Iterable[Student]:
        """Every student whom the person may see."""
        return self._students().values()

    def _students(self) -> dict[str, Student]:
        return self._by(
            ("students",),
            lambda: Student.objects.changeable_by(self.actor).select_related(
                "district", "building__district", "home_class", "caseload_teacher"
            ),
            "code",
        )

    def student(self, code: str) -> Student:
        """A student by their code. Raises CellError."""
        found = self.find_student(code)
        if found is None:
            codes = [student.code for student in self._students().values()]
            raise _unknown(f"No student of yours has the code “{code}”.", code, codes)
        return found

    def find_schedule(self, building: Building, name: str) -> BellSchedule | None:
        """A bell schedule of a building by its name, or None."""
        return self._schedules(building).get(name.casefold())

    def _schedules(self, building: Building) -> dict[str, BellSchedule]:
        return self._by(
            ("schedules", building.pk),
            lambda: BellSchedule.objects.filter(building=building).select_related("building__district"),
            "name",
        )

    def schedule(self, building: Building, name: str) -> BellSchedule:
        """A bell schedule of a building by its name. Raises CellError."""
        found = self.find_schedule(building, name)
        if found is None:
            names = [schedule.name for schedule in self._schedules(building).values()]
            raise _unknown(f"{building.name} has no bell schedule “{name}”.", name, names)
        return found

    def _people(self) -> dict[str, Person]:
        """Everybody of the district by sign-in name, whether they still work there or not."""
        return self._by(
            ("people",),
            lambda: (
                Person.objects.filter(district=self.actor.district)
                .select_related("district")
                .prefetch_related("roles")
            ),
            "username",
        )

    def _working(self, role: str) -> list[str]:
        """The sign-in names of those who have a role now or later."""
        today = today_of(self.actor)
        people = self._people().values()
        there = (one for one in people if one.is_active and not one.by_link)
        return [one.username for one in there if one.holds_from(role, today)]

    def _of_role(self, username: str, role: str, called: str) -> Person:
        """Whoever has a role, had it, or will, by sign-in name. Raises CellError."""
        found = self._people().get(username.casefold())
        if found is None or found.by_link or not found.holds(role):
            message = f"No {called} of the district signs in as “{username}”."
            raise _unknown(message, username, self._working(role))
        return found

    def any_teacher(self, username: str) -> Person:
        """A teacher of the district by sign-in name, also one who has left. Raises CellError."""
        return self._of_role(username, Person.Role.TEACHER, "teacher")

    def substitute(self, username: str) -> Person:
        """A substitute of the district by sign-in name, also one who has left. Raises CellError."""
        return self._of_role(username, Person.Role.SUBSTITUTE, "substitute")

    def colleague(self, username: str) -> Person:
        """A teacher or a coordinator by sign-in name, also one who has left. Raises CellError."""
        found = self._people().get(username.casefold())
        if found is not None and found.holds(Person.Role.COORDINATOR):
            return found
        return self.any_teacher(username)

    def driver(self, name: str) -> Person:
        """Whoever drove: by sign-in name, or somebody who came by a link by the name. Raises CellError."""
        by_link = [
            one for one in self._people().values() if one.by_link and one.called.casefold() == name.casefold()
        ]
        if len(by_link) > 1:
            message = f"Several people called “{name}” came by a link."
            raise CellError(message, "Take this row out: a table can't tell them apart.")
        if by_link:
            return by_link[0]
        found = self._people().get(name.casefold())
        return found if found is not None and found.holds(Person.Role.SUBSTITUTE) else self.any_teacher(name)

    def somebody(self, name: str) -> Person:
        """Anybody of the district by sign-in name, or who came by a link by the name. Raises CellError."""
        found = self._people().get(name.casefold())
        return found if found is not None else self.driver(name)

    def has_left(self, username: str) -> Person | None:
        """Somebody of the district who can't sign in anymore, by sign-in name; None for anybody else."""
        found = self._people().get(username.casefold())
        return found if found is not None and not found.is_active else None

    def own_teacher(self, username: str | None) -> Person:
        """Whose rows these are: a teacher's own only; the coordinator may name any. Raises CellError."""
        if self.actor.is_teacher:
            if username and username.casefold() != self.actor.username.casefold():
                raise CellError(
                    f"“{username}” isn't you: a teacher can import only their own rows.",
                    "Leave the cell empty, or ask the coordinator to import this row.",
                )
            return self.actor
        if username:
            return self.any_teacher(username)
        teachers = sorted(self._working(Person.Role.TEACHER))
        if len(teachers) == 1:
            return self.any_teacher(teachers[0])
        remedy = f"Write the sign-in name, one of: {', '.join(teachers)}."
        raise CellError("It doesn't say which teacher this is for.", remedy)


def _unknown(message: str, text: str, options: list[str] | tuple[str, ...]) -> CellError:
    return CellError(message, nearest(text, options))


def grade_of(text: str) -> str:
    """A grade as it is saved. Raises CellError."""
    grade = grade_called(text)
    if grade not in GRADES:
        raise CellError(f"“{text}” is no grade.", f"Use one of: {', '.join(GRADES)}.")
    return grade
