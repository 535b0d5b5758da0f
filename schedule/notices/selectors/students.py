"""Who comes to a session, and how students are called in a message by one way."""

import datetime as dt
from collections.abc import Iterable
from zoneinfo import ZoneInfo

from django.db.models import Q

from accounts.models import District, Person
from accounts.selectors import LastChange, last_change_of
from caseload.plans.models import Student
from caseload.plans.names import student_names
from schedule.notices.models import NameRule, Notice
from schedule.notices.students import Who, codes_in, with_students, without_students
from schedule.weeks.models import SessionAttendee

Shown = NameRule.Shown
NOTHING: dict[str, str] = {Notice.Channel.MAIL: Shown.NOTHING, Notice.Channel.PUSH: Shown.NOTHING}


RULES_UNDO = "name_rule_take_back"


def last_name_rule_change(viewer: Person) -> LastChange | None:
    """What was done last to the rules of the viewer's district on names in messages."""
    if viewer.district is None:
        return None
    every = Q(model=NameRule._meta.label_lower)
    return last_change_of(NameRule, viewer.district, (), undo=RULES_UNDO, about=every)


def names_shown(district: District, date: dt.date) -> dict[str, str]:
    """By way, how a district has students called in messages of a day; without a rule not at all."""
    row = NameRule.objects.filter(district=district, first_date__lte=date).order_by("-first_date").first()
    return {Notice.Channel.MAIL: row.mail, Notice.Channel.PUSH: row.push} if row is not None else dict(NOTHING)


def who_comes(uids: Iterable[str]) -> Who:
    """Codes of who comes to sessions, as the newest version that knows each has it."""
    rows = SessionAttendee.objects.filter(session__uid__in=set(uids)).order_by("session", "student__code")
    newest: dict[str, int] = {}
    found: dict[tuple[str, int], list[str]] = {}
    for uid, session, code in rows.values_list("session__uid", "session", "student__code"):
        newest[str(uid)] = max(session, newest.get(str(uid), 0))
        found.setdefault((str(uid), session), []).append(code)
    return {uid: tuple(dict.fromkeys(found[uid, session])) for uid, session in newest.items()}


def called_in(text: str, *, viewer: Person | None, shown: str) -> str:
    """A text as somebody reads it: students whom they may see as `shown` says, nobody else."""
    codes = codes_in(text)
    if not codes or viewer is None or shown == Shown.NOTHING:
        return without_students(text)
    students = dict(Student.objects.visible_to(viewer).filter(code__in=codes).values_list("code", "pk"))
    names = student_names(viewer, students.values())
    words = names.initials if shown == Shown.INITIALS else names.full
    return with_students(text, {code: words[pk] for code, pk in students.items() if pk in words})


def notice_text(row: Notice, *, now: dt.datetime) -> str:
    """A message as it leaves at a moment: by the rule of that day, so that one taken back holds for what waits."""
    if not codes_in(row.body):
        return row.body
    local = now.astimezone(ZoneInfo(row.district.time_zone))
    shown = names_shown(row.district, local.date())[row.channel]
    return called_in(row.body, viewer=row.person, shown=shown)
