"""What undoing an import does to the people whom it made: whoever has nothing yet goes, the others are deactivated.

So nobody's records or sign-ins are lost, and nobody can sign in by mistake.
"""

from collections.abc import Iterable, Sequence

from accounts.errors import ApplicationError
from accounts.models import Person, PersonRole
from accounts.people.services import person_active_set
from accounts.roles.selectors import coordinator_stays
from accounts.roles.services import LAST_COORDINATOR
from accounts.services import district_of
from schedule.imports.models import ImportedRow
from schedule.imports.rows.snapshot import dependents_of
from travel.places.models import BuildingStaff

PERSON = Person._meta.label_lower
_OF_PEOPLE = {PersonRole._meta.label_lower, BuildingStaff._meta.label_lower}


def people_staying(rows: Iterable[ImportedRow]) -> list[Person]:
    """Of the people whom an import made: who signed in, has a password, or has a row of theirs somewhere."""
    made = [(row.model, row.object_id) for row in rows if row.before is None]
    people = list(Person.objects.filter(pk__in=[pk for model, pk in made if model == PERSON]))
    if not people:
        return []
    used = [one for one, _ in dependents_of(made)]
    return [one for one in people if one in used or _has_signed_in(one)]


def _has_signed_in(person: Person) -> bool:
    """Whether somebody did, or could."""
    return person.last_login is not None or person.has_usable_password()


def is_about(row: ImportedRow, people: Iterable[Person]) -> bool:
    """Whether a row is one of these people, or says a role or a building of theirs."""
    keys = {one.pk for one in people}
    if row.model == PERSON:
        return int(row.object_id) in keys
    return row.model in _OF_PEOPLE and (row.after or row.before or {}).get("person") in keys


def people_leave(*, actor: Person, people: Sequence[Person], rows: Iterable[ImportedRow]) -> None:
    """Deactivate those who stay; somebody still answers for the district after the undo (of these rows).

    Call it in the undo's transaction. Raises ApplicationError (409).
    """
    for one in people:
        if one.is_active:
            person_active_set(actor=actor, row=one, active=False)
    touched = people or any(row.model == PERSON or row.model in _OF_PEOPLE for row in rows)
    if touched and not coordinator_stays(district_of(actor)):
        raise ApplicationError(LAST_COORDINATOR, code="last_coordinator")
