"""A proposal as plain values that a JSON column can hold, and back. Weeks that show it can be done are left out."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, fields
from typing import Any

from schedule.planner.assign.answer import Favoring, Proposal, StaffingFigures, YearLoad
from schedule.planner.assign.question import Staffing
from schedule.planner.result import Ended


def as_record(proposal: Proposal) -> dict[str, Any]:
    """Plain values only. Holds ids, minutes and the sentences of ``broken``."""
    found = asdict(proposal)
    for load in found["loads"]:
        del load["plan"]
    return {**found, "favoring": proposal.favoring.value, "ended": proposal.ended.value}


def from_record(record: Mapping[str, Any]) -> Proposal:
    """The same proposal without weeks. Raises ``KeyError`` or ``ValueError`` for what ``as_record`` didn't make."""
    loads = tuple(YearLoad(**{key: _tuples(value) for key, value in one.items()}) for one in record["loads"])
    figures = StaffingFigures(**{one.name: record["figures"][one.name] for one in fields(StaffingFigures)})
    changed = {
        "favoring": Favoring(record["favoring"]),
        "ended": Ended(record["ended"]),
        "loads": loads,
        "figures": figures,
        "broken": tuple(record["broken"]),
    }
    return Proposal(**{**record, **changed})


def part_as_record(load: YearLoad) -> list[Any]:
    """One teacher's part as few plain values: what the question says of it anyway is left out."""
    return [load.teacher, list(load.services), load.placed, load.unplaced, load.driving, load.short, load.miles]


def part_from_record(question: Staffing, record: Sequence[Any]) -> YearLoad:
    """The same part. Raises ``KeyError`` for ids that the question doesn't know."""
    teacher, ids, placed, unplaced, driving, short, miles = record
    given = [question.service(one) for one in ids]
    return YearLoad(
        teacher=teacher,
        services=tuple(ids),
        students=tuple(dict.fromkeys(student for one in given for student in one.students)),
        places=tuple(dict.fromkeys(one.place for one in given)),
        owed=sum(one.week_minutes for one in given),
        placed=placed,
        unplaced=unplaced,
        driving=driving,
        short=short,
        miles=miles,
        contract=question.teacher(teacher).contract_minutes,
    )


def _tuples(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value
