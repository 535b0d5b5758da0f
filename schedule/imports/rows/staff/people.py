"""Rows of people to sign-ins with their roles, by the services of the People page.

A person is known by the sign-in name, or where a row has none by the mail address. Nobody is made twice: a row that
may be either is asked about.
"""

import datetime as dt
import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from typing import Any

from django.core.exceptions import ValidationError

from accounts.errors import ApplicationError
from accounts.guards import ends_foreseen
from accounts.models import Person, PersonRole
from accounts.people.hooks import office_buildings
from accounts.people.selectors import people_listed
from accounts.people.services import person_active_set, person_with_offices_save
from accounts.roles.services import role_effects, role_save
from schedule.imports.rows.context import ParsedRow, Place, TableRun, changed_words, model_values
from schedule.imports.rows.schools import looked_up, same_in_all
from travel.places.models import Building

_OFFICE = Person.Role.OFFICE.value
_PLAIN = ("first_name", "last_name", "email", "last_day")
_NAMES = ("first_name", "last_name")
_OF_ALL = (*_PLAIN, "is_active")
"""What is about the person, and so the same in the rows of all roles."""
_ROLE_DAYS = {"first_day": "role_first_day", "last_day": "role_last_day"}


def write_people(run: TableRun, rows: list[ParsedRow]) -> None:
    """People with their roles, a row for each role."""
    known = _Known(people_listed(run.actor))
    groups: dict[str, list[ParsedRow]] = {}
    for row in rows:
        groups.setdefault(known.key(row), []).append(row)
    for group in groups.values():
        if same_in_all(run, group, _OF_ALL):
            _write_person(run, group, known)


class _Known:
    """The district's people as they were before this table, by sign-in name and by mail address."""

    def __init__(self, people: Iterable[Person]) -> None:
        self.by_name: dict[str, Person] = {}
        self.by_mail: dict[str, list[Person]] = {}
        for one in people:
            self.by_name[one.username.casefold()] = one
            if one.email:
                self.by_mail.setdefault(one.email.casefold(), []).append(one)

    def key(self, row: ParsedRow) -> str:
        """By what the rows of one person belong together."""
        name, mail = str(row.get("username", "")), str(row.get("email", ""))
        by_mail = self.of_mail(row)
        return (name or (by_mail[0].username if len(by_mail) == 1 else f"@ {mail or row.number}")).casefold()

    def of_mail(self, row: ParsedRow) -> list[Person]:
        """Who has the mail address of a row."""
        return self.by_mail.get(str(row.get("email", "")).casefold(), [])

    def namesake(self, row: ParsedRow) -> Person | None:
        """Somebody who is called the same."""
        wanted = [str(row.get(name, "")).casefold() for name in _NAMES]
        called = (
            one for one in self.by_name.values() if wanted == [one.first_name.casefold(), one.last_name.casefold()]
        )
        return next(called, None) if all(wanted) else None

    def suggestion(self, row: ParsedRow) -> str:
        """A sign-in name that nobody of the district has, of the first letter and the last name."""
        first, last = (_letters(str(row.get(name, ""))) for name in _NAMES)
        begun = f"{first[:1]}{last}" or "vtarn"
        free = (name for name in (begun, *(f"{begun}{number}" for number in range(2, 100))))
        return next((name for name in free if name not in self.by_name), begun)


def _letters(text: str) -> str:
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z]", "", plain.casefold())


def _person_of(run: TableRun, row: ParsedRow, known: _Known) -> Person | None:
    """Whom a row means: somebody known, or somebody new; None with the problem noted."""
    name = str(row.get("username", ""))
    found, same_mail = known.by_name.get(name.casefold()), known.of_mail(row)
    if found is not None:
        return found
    if not name:
        return _by_mail(run, row, same_mail, known)
    if same_mail:
        who = same_mail[0]
        run.fault(
            row,
            "username",
            f"{who.called} has this mail address already and signs in as “{who.username}”.",
            "Write that sign-in name if it is the same person, or another mail address if it is somebody else.",
        )
        return None
    namesake = known.namesake(row)
    if namesake is not None:
        message = (
            f"{namesake.called} is there already and signs in as “{namesake.username}”; this row adds another."
        )
        run.fault(row, "username", message, "Write that sign-in name if it is the same person.", warning=True)
    return Person(district=run.district)


def _by_mail(run: TableRun, row: ParsedRow, found: list[Person], known: _Known) -> Person | None:
    """Somebody known by the mail address alone; None with the problem noted."""
    if len(found) == 1:
        message = (
            f"By the mail address this row is taken for {found[0].called}, who signs in as “{found[0].username}”."
        )
        run.fault(row, "email", message, "Write another sign-in name if it is somebody else.", warning=True)
        return found[0]
    if found:
        names = ", ".join(sorted(one.username for one in found))
        message = "Several people have this mail address."
        run.fault(row, "username", message, f"Write the sign-in name of the one who is meant: {names}.")
        return None
    remedy = f"Write one, such as “{known.suggestion(row)}”."
    run.fault(row, "username", "Somebody new needs a sign-in name.", remedy)
    return None


def _write_person(run: TableRun, group: list[ParsedRow], known: _Known) -> None:
    """One person, then each role. A row that changes nothing is counted as the same."""
    person = _person_of(run, group[0], known)
    if person is None or not _named(run, group[0], person):
        return
    values = _person_values(run, group, person)
    if values is None:
        return
    before, is_new = len(run.problems), not person.pk
    saved = _save_person(run, group[0], person, values)
    if saved is None:
        return
    _write_roles(run, group[1:] if is_new else group, saved)
    told = {one.row for one in run.outcomes} | {one.row for one in run.problems[before:]}
    run.tally.same += sum(row.number not in told for row in group)


def _write_roles(run: TableRun, rows: list[ParsedRow], person: Person) -> None:
    """The roles that rows name; the first of somebody new is there already."""
    for row in rows:
        if row.get("role"):
            _write_role(run, row, person)


def _named(run: TableRun, row: ParsedRow, person: Person) -> bool:
    """Whether somebody new has both names, with the problems noted."""
    missing = [name for name in _NAMES if not person.pk and not row.get(name)]
    for name in missing:
        header = run.table.column(name).header
        run.fault(row, name, f"Somebody new needs a {header.casefold()}.", "Fill it in.")
    return not missing


def _person_values(run: TableRun, group: list[ParsedRow], person: Person) -> dict[str, Any] | None:
    """What the rows say of the person; None with the problem noted."""
    first = group[0]
    values = model_values(Person, first, _PLAIN)
    for name in _NAMES:
        if not values.get(name):
            values.pop(name, None)
    if str(values.get("email", "")).casefold() == person.email.casefold():
        values.pop("email", None)
    if first.get("is_active") is not None:
        values["is_active"] = first.values["is_active"]
    values["username"] = person.username if person.pk else first.values["username"]
    if not person.pk:
        values["role"] = first.get("role", Person.Role.TEACHER.value)
    return _add_buildings(run, group, person, values)


def _add_buildings(
    run: TableRun, group: list[ParsedRow], person: Person, values: dict[str, Any]
) -> dict[str, Any] | None:
    """With the buildings of an office, where the rows name any; None with the problem noted."""
    found = [one for row in group for one in _buildings(run, row)]
    buildings = {one.pk: one for one in found if one is not None}
    if None in found:
        return None
    if _becomes_office(group, person):
        # The role of another row brings them.
        return values
    if buildings or _are_emptied(group[0], person):
        values["buildings"] = [buildings[key] for key in sorted(buildings)]
    return values


def _becomes_office(group: list[ParsedRow], person: Person) -> bool:
    """Whether a role that is added later makes somebody a school office who is none."""
    later = group if person.pk else group[1:]
    is_one = person.holds(_OFFICE) if person.pk else group[0].get("role") == _OFFICE
    return not is_one and any(row.get("role") == _OFFICE for row in later)


def _buildings(run: TableRun, row: ParsedRow) -> list[Building | None]:
    """The buildings that a row names by code or name; None for each that isn't one, with the problem noted."""
    codes = [run.lookups.building_code(name) for name in row.get("buildings", ())]
    return [looked_up(run, row, "buildings", run.lookups.building, code) for code in codes]


def _are_emptied(row: ParsedRow, person: Person) -> bool:
    """Whether an empty cell empties somebody's buildings: the service says what an office must have."""
    return bool("buildings" in row.values and person.pk and office_buildings().chosen(person))


def _save_person(run: TableRun, row: ParsedRow, person: Person, values: dict[str, Any]) -> Person | None:
    """Save somebody new or changed; None if it was refused."""
    if not person.pk:
        service = partial(_person_save, row)
        return run.save(row, service, person, values, (), _place_of(row))
    has = Building.objects.filter(pk__in=office_buildings().chosen(person)).order_by("pk")
    words = changed_words(run.table, person, values, {"buildings": list(has)})
    if not words:
        return person
    act = partial(_person_save, row, actor=run.actor, values=values)
    told = _told(partial(ends_foreseen, run.actor, person, lambda: act(row=Person.objects.get(pk=person.pk))))
    return run.save(row, partial(_person_save, row), person, values, (*words, *told), _place_of(row))


def _person_save(told: ParsedRow, *, actor: Person, row: Person, values: Mapping[str, Any]) -> Person:
    """Save a person with offices, the days of somebody new's first role, and whether they can sign in."""
    own = {name: value for name, value in values.items() if name != "is_active"}
    is_new, active = not row.pk, values.get("is_active", row.is_active)
    if active and not row.is_active:
        # It takes the last day back, which the row may set again.
        person_active_set(actor=actor, row=row, active=True)
    saved = person_with_offices_save(actor=actor, row=row, values=own)
    days = {name: told.get(column) for name, column in _ROLE_DAYS.items()}
    if is_new and any(days.values()):
        role_save(actor=actor, row=saved.roles.get(), values=days)
    if not active and saved.is_active:
        person_active_set(actor=actor, row=saved, active=False)
    return saved


def _place_of(row: ParsedRow) -> Place:
    """Row and column of a service's field; a role's days have columns of their own."""
    return lambda field: (row, field)


def _write_role(run: TableRun, row: ParsedRow, person: Person) -> None:
    """The role of a row: with other days than it has, or one more."""
    values = {name: row.get(column) for name, column in _ROLE_DAYS.items() if column in row.values}
    found = _role_of(person, row.values["role"], values)
    words = () if found is None else _role_words(found, values)
    if found is not None and not words:
        return
    wanted = found or PersonRole(person=person, role=row.values["role"])
    changes = values if found is not None else {"role": row.values["role"], **values}
    if found is None and row.get("buildings"):
        changes["buildings"] = _buildings(run, row)
    told = _told(partial(role_effects, actor=run.actor, row=_again(wanted), values=changes))
    run.save(row, role_save, wanted, changes, (*words, *told), lambda field: (row, _ROLE_DAYS.get(field, field)))
    # Other rows of the person are held against what is there now.
    person._known_roles = None  # noqa: SLF001


def _again(row: PersonRole) -> PersonRole:
    """A role as it is saved, to try a change on."""
    return PersonRole.objects.get(pk=row.pk) if row.pk else PersonRole(person=row.person, role=row.role)


def _role_of(person: Person, role: str, values: Mapping[str, Any]) -> PersonRole | None:
    """The saved role that a row means: from the same day, else one that the row's days meet."""
    rows = list(person.roles.filter(role=role))
    begins, ends = _span(values.get("first_day"), values.get("last_day"))
    spans = [(one, _span(one.first_day, one.last_day)) for one in rows]
    same = [one for one, (first, _) in spans if first == begins]
    meets = [one for one, (first, last) in spans if last >= begins and first <= ends]
    return next(iter((*same, *meets)), None)


def _span(first: dt.date | None, last: dt.date | None) -> tuple[dt.date, dt.date]:
    return first or dt.date.min, last or dt.date.max


def _role_words(row: PersonRole, values: Mapping[str, Any]) -> tuple[str, ...]:
    """From which days to which a role goes."""
    now = PersonRole(role=row.role, first_day=row.first_day, last_day=row.last_day)
    for name, value in values.items():
        setattr(now, name, value)
    if (row.first_day, row.last_day) == (now.first_day, now.last_day):
        return ()
    return (f"{row.get_role_display()}: {row.days or 'without an end'} → {now.days or 'without an end'}",)


def _told(foresee: Callable[[], list[str]]) -> list[str]:
    """What a change ends or opens, in clauses of a list; nothing where saving refuses it."""
    try:
        return [text.removesuffix(".") for text in foresee()]
    except (ValidationError, ApplicationError):
        return []
