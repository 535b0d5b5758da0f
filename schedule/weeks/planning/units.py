"""Service lines as the planner's services and groups.

Own-class lines of one class and one length are a single class session, within the class's ratio. Pushed-in lines of
one class, and small-group lines of one building, may be joined. One-to-one lines and consultations stand alone.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from caseload.plans.models import ServiceLine
from schedule.calendar.models import TeacherRules
from schedule.planner.problem import Group, Service
from schedule.weeks.groups import GroupChoice, Joinable, choose_groups, common_starts, in_chunks
from schedule.weeks.planning.line_week import LineWeek, grades_of
from schedule.weeks.planning.make_up_services import MakeUp, is_make_up, make_up_key
from schedule.weeks.planning.sources import Sources
from schedule.weeks.planning.starting.candidates import candidates_of, is_direct, label_of, remarks_of
from schedule.weeks.planning.starting.joint import JointStarts, joint_starts

Setting = ServiceLine.Setting
ANY_GRADE = 99


@dataclass(frozen=True, slots=True)
class UnitInfo:
    """What a planner's service or group is made of. ``remarks`` say why it has no start at all, if so.

    ``students``: marked codes of those who must be there, by id; none for a consultation. ``joint``: where it
    stands beside another teacher's session. ``building``: where it is held; ``students_from``: their own school, if
    that is another one. ``grades``: by whose rotation its days are named.
    """

    key: str
    lines: tuple[int, ...]
    setting: str
    building: int
    school_class: int | None
    label: str
    remarks: tuple[str, ...] = ()
    students: Mapping[int, str] = field(default_factory=dict)
    joint: JointStarts = field(default_factory=JointStarts)
    students_from: int | None = None
    grades: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Units:
    """Services and groups of a week, and what they are made of."""

    services: tuple[Service, ...]
    groups: tuple[Group, ...]
    infos: Mapping[str, UnitInfo]
    notes: tuple[str, ...]

    def unit_of_line(self) -> dict[int, str]:
        """The service that each line belongs to, make-ups apart."""
        owed = [service.id for service in self.services if not is_make_up(service.id)]
        return {line: key for key in owed for line in self.infos[key].lines}


def build_units(
    lines: Sequence[LineWeek],
    sources: Sources,
    rules: TeacherRules,
    asked_groups: Iterable[str] = (),
    make_ups: Iterable[tuple[LineWeek, ...]] = (),
) -> Units:
    """Services and groups for these lines. ``asked_groups`` are keys of groups that must be among the choices.

    Each of ``make_ups`` is a service of its own for its students, whatever else their lines are joined with.
    """
    infos: dict[str, UnitInfo] = {}
    services: list[Service] = []
    notes: list[str] = []
    for key, members in _bundles(lines).items():
        service, info = _service(key, members, sources)
        services.append(service)
        infos[key] = info
    for members in make_ups:
        service, info = _make_up_service(members, sources)
        services.append(service)
        infos[service.id] = info
    alone = {one.line.pk: one for one in lines}
    groups = _groups(alone, {s.id: s for s in services}, rules, asked_groups, notes)
    infos |= {group.id: _group_info(group, infos) for group in groups}
    return Units(tuple(services), tuple(groups), infos, tuple(notes))


# ---- services --------------------------------------------------------------------------------------------


def line_key(line: int) -> str:
    """The planner's id of a line that stands for itself."""
    return f"line-{line}"


def group_key(lines: Iterable[int]) -> str:
    """The planner's id of a group of lines."""
    return "group-" + "-".join(str(line) for line in sorted(lines))


def lines_of_group(key: str) -> tuple[int, ...]:
    """The lines of a group's id; empty for any other id."""
    head, _, tail = key.partition("-")
    return tuple(int(part) for part in tail.split("-")) if head == "group" else ()


def _bundles(lines: Sequence[LineWeek]) -> dict[str, tuple[LineWeek, ...]]:
    """Lines by service: classes together (in parts where the ratio asks for it), the others alone."""
    classes: dict[tuple[int, int], dict[tuple[int, int], list[LineWeek]]] = defaultdict(lambda: defaultdict(list))
    found: dict[str, tuple[LineWeek, ...]] = {}
    for one in lines:
        home = one.place.home_class_id
        if one.line.setting == Setting.OWN_CLASS and home is not None and is_direct(one.line):
            classes[home, one.owed.minutes][one.elsewhere].append(one)
        else:
            found[line_key(one.line.pk)] = (one,)
    for (school_class, minutes), by_place in classes.items():
        parts = [part for place in sorted(by_place) for part in _class_parts(by_place[place])]
        for number, part in enumerate(parts):
            suffix = f"-{number + 1}" if number else ""
            found[f"class-{school_class}-{minutes}{suffix}"] = part
    return found


def _class_parts(members: Sequence[LineWeek]) -> Sequence[tuple[LineWeek, ...]]:
    """A class's lines of one length and place, in equal parts within its ratio."""
    home_class = members[0].home_class
    limit = home_class.student_limit if home_class else len(members)
    return in_chunks(sorted(members, key=lambda one: (one.code, one.line.pk)), limit)


def _days_apart(line: ServiceLine) -> int:
    """A daily service meets on each day, as often as it says."""
    if line.unit == ServiceLine.Unit.DAY:
        return 0 if line.times != 1 else 1
    return line.days_apart


def _service(key: str, members: tuple[LineWeek, ...], sources: Sources) -> tuple[Service, UnitInfo]:
    school_class, (building, students_from) = _class_of(members[0], make_up=is_make_up(key)), members[0].held_at
    candidates = list(candidates_of(members, school_class, sources))
    joint = _joint(key, members, school_class, sources)
    starts = joint.among([start for one in candidates for start in one.starts])
    label = label_of(members)
    service = Service(
        id=key,
        minutes=members[0].owed.minutes,
        sessions=max(one.owed.sessions for one in members),
        starts=starts,
        label=label,
        days_apart=max(_days_apart(one.line) for one in members),
        weight=len(members),
        students=tuple(one.code for one in members),
        barred=tuple(bar for one in candidates for bar in one.barred),
    )
    info = UnitInfo(
        key=key,
        lines=tuple(one.line.pk for one in members),
        setting=members[0].line.setting,
        building=building,
        students_from=students_from,
        school_class=school_class,
        label=label,
        remarks=remarks_of(members, sources) if not starts else (),
        students=_direct_students(members),
        joint=joint,
        grades=grades_of(members),
    )
    return service, info


def _joint(key: str, members: tuple[LineWeek, ...], school_class: int | None, sources: Sources) -> JointStarts:
    """A make-up is one's own, whatever else is given together."""
    return JointStarts() if is_make_up(key) else joint_starts(members, school_class, sources)


def _make_up_service(members: tuple[LineWeek, ...], sources: Sources) -> tuple[Service, UnitInfo]:
    """A make-up of one student, or of a group on the days on which all of it can be served."""
    key = make_up_key(MakeUp(tuple(one.line.pk for one in members), members[0].owed.minutes))
    service, info = _service(key, members, sources)
    owed = {date.isoformat() for date in sources.dates if all(one.active_on(date) for one in members)}
    label = " + ".join(label_of((one,)) for one in members)
    starts = tuple(one for one in service.starts if one.day in owed)
    return replace(service, label=f"{label} (make-up)", starts=starts), replace(info, label=label)


def _class_of(one: LineWeek, *, make_up: bool) -> int | None:
    """The class in which a line is served; a make-up of one's own class is held without it."""
    if one.line.setting == Setting.OWN_CLASS:
        return None if make_up else one.place.home_class_id
    return one.line.pushed_into_id if one.line.setting == Setting.PUSH_IN else None


def _direct_students(members: Iterable[LineWeek]) -> dict[int, str]:
    """Students by id with their marked code; those of a consultation aren't there."""
    served = [one.line.plan.student for one in members if is_direct(one.line)]
    return {student.pk: student.marked_code for student in served}


# ---- groups ----------------------------------------------------------------------------------------------


def _are_served(lines: Iterable[int], services: Mapping[str, Service]) -> bool:
    return all(line_key(line) in services for line in lines)


def _groups_chosen(choice: GroupChoice, services: Mapping[str, Service]) -> dict[str, Group]:
    ids = [tuple(int(key.removeprefix("line-")) for key in group) for group in choice.groups]
    return {made.id: made for made in (_group(lines, services) for lines in ids)}


def _groups(
    lines: Mapping[int, LineWeek],
    services: Mapping[str, Service],
    rules: TeacherRules,
    asked: Iterable[str],
    notes: list[str],
) -> list[Group]:
    found: dict[str, Group] = {}
    for where, members in _joinable(lines):
        setting = members[0].line.setting
        choice = _choice(members, rules, any_grade=setting == Setting.PUSH_IN)
        if choice.narrowed:
            notes.append(
                f"{where}: of {choice.possible} possible groups, the {len(choice.groups)} of students "
                "closest in grade "
                "were tried."
            )
        found |= _groups_chosen(choice, services)
    for key in asked:
        wanted = lines_of_group(key)
        if wanted and key not in found and _are_served(wanted, services):
            found[key] = _group(wanted, services)
    # A group without a common moment can't be taken, and only costs the search time.
    kept = set(asked)
    return [group for group in found.values() if group.starts or group.id in kept]


def _joinable(lines: Mapping[int, LineWeek]) -> list[tuple[str, list[LineWeek]]]:
    """Lines that might be taken together, each with a text that says where."""
    found: dict[tuple[object, ...], list[LineWeek]] = defaultdict(list)
    for one in lines.values():
        if not is_direct(one.line) or one.owed.sessions == 0:
            continue
        if one.line.setting == Setting.SMALL_GROUP:
            found[one.building.name, one.owed.minutes, one.building.pk, 0, one.elsewhere].append(one)
        elif one.line.setting == Setting.PUSH_IN and one.line.pushed_into is not None:
            place = f"{one.building.name}, {one.line.pushed_into.name}"
            found[place, one.owed.minutes, one.building.pk, one.line.pushed_into.pk].append(one)
    return [(f"{where}, {minutes} minutes", rows) for (where, minutes, *_), rows in found.items()]


def _choice(members: Sequence[LineWeek], rules: TeacherRules, *, any_grade: bool) -> GroupChoice:
    joinable = [
        Joinable(
            line_key(one.line.pk),
            one.code,
            one.place.grade,
            # In a general class the class is the group: a limit of 1 there is only the field's first value.
            rules.largest_group if any_grade and one.line.largest_group == 1 else one.line.largest_group,
        )
        for one in members
    ]
    apart = ANY_GRADE if any_grade else rules.grades_apart
    return choose_groups(joinable, largest=rules.largest_group, grades_apart=apart)


def _group(lines: Sequence[int], services: Mapping[str, Service]) -> Group:
    members = tuple(line_key(line) for line in sorted(lines))
    starts = common_starts(members, {key: services[key].starts for key in members})
    return Group(
        id=group_key(lines),
        members=members,
        minutes=services[members[0]].minutes,
        starts=starts,
        label=" + ".join(sorted(services[key].label for key in members)),
    )


def _group_info(group: Group, infos: Mapping[str, UnitInfo]) -> UnitInfo:
    parts = [infos[member] for member in group.members]
    lines = tuple(line for part in parts for line in part.lines)
    students = {pk: code for part in parts for pk, code in part.students.items()}
    alone = JointStarts()  # What stands beside another teacher's session is a service by itself.
    return replace(
        parts[0], key=group.id, lines=lines, label=group.label, remarks=(), students=students, joint=alone
    )
