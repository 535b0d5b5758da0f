"""Reads about roles."""

from accounts.models import District, Person, PersonRole
from accounts.selectors import LastChange, last_change_of, today_in, today_of

ROLE_UNDO = "role_undo"


def roles_of(viewer: Person) -> list[tuple[str, str]]:
    """The roles that somebody holds today, each with its words; the one held longest first."""
    return [(role, Person.Role(role).label) for role in viewer.roles_on(today_of(viewer))]


def role_begun(person: Person, chosen: str = "") -> str:
    """In which role a session of somebody works today: the one chosen in it, if it is held; else the saved one."""
    held = person.roles_on(today_of(person))
    return next((one for one in (chosen, person.role, *held) if one in held), "")


def last_role_change(row: PersonRole) -> LastChange | None:
    """What was done last to the days of a role; one that was just added is removed, not taken back."""
    district = row.person.district
    last = last_change_of(PersonRole, district, [row.pk], undo=ROLE_UNDO) if district is not None else None
    return None if last is None or "id" in last.entry.changes else last


def coordinator_stays(district: District) -> bool:
    """Whether somebody who can sign in answers for a district today, and without a last day."""
    rows = PersonRole.objects.in_force(today_in(district)).filter(role=Person.Role.COORDINATOR, last_day=None)
    return rows.filter(person__district=district, person__is_active=True, person__last_day=None).exists()
