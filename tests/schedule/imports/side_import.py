"""A process of its own that imports while others work: ``python -m tests.schedule.imports.side_import ACTION``.

Others are threads of this process with connections of their own. They write by the usual services from inside the
progress of a check, so that there is no doubt that it was under way. Prints what came of it as JSON.
"""

import json
import sys
import threading
from collections.abc import Callable
from typing import Any

import django

django.setup()

# Rows can be imported only once Django is set up.
from django.db import OperationalError, connection  # noqa: E402 -- see above

from accounts.models import AuditEntry, Person  # noqa: E402 -- see above
from caseload.care.models import Support  # noqa: E402 -- see above
from caseload.care.services import support_save  # noqa: E402 -- see above
from caseload.plans.models import Student  # noqa: E402 -- see above
from caseload.plans.services import student_save  # noqa: E402 -- see above
from schedule.imports.models import ImportBatch  # noqa: E402 -- see above
from schedule.imports.services.saving import alone  # noqa: E402 -- see above
from schedule.imports.services.tables import import_undo  # noqa: E402 -- see above
from schedule.imports.services.work import MOST_AT_ONCE, import_check, import_save, import_save_checked, import_send  # noqa: E402 -- see above
from tests.conftest import make_cast  # noqa: E402 -- see above
from travel.places.models import Building  # noqa: E402 -- see above
from travel.places.services import building_save  # noqa: E402 -- see above

ROWS = MOST_AT_ONCE + 20
HEADERS = "Student code,First name,Last name,Grade,Building code"
TABLE = "\n".join([HEADERS, "S01,Ola,Renamed,3,NORTH", *(f"N{n},Ola,Tarn,3,NORTH" for n in range(ROWS - 1))])


def person(username: str) -> Person:
    """Somebody of the cast."""
    return Person.objects.get(username=username)


class Others:
    """What others do, one deed a round, as soon as the check has come to its fifth row."""

    def __init__(self, *deeds: Callable[[], object]) -> None:
        self.deeds = list(deeds)
        self.said: list[str] = []
        self.heard: list[int] = []

    def progress(self, told: dict[str, int]) -> None:
        """Hear how far it is, and let somebody act."""
        self.heard.append(told["done"])
        if told["done"] == 5 and self.deeds:
            deed = self.deeds.pop(0)
            thread = threading.Thread(target=self._do, args=(deed,))
            thread.start()
            thread.join()

    def _do(self, deed: Callable[[], object]) -> None:
        try:
            deed()
            self.said.append("through")
        except OperationalError as error:
            self.said.append(str(error))
        finally:
            connection.close()

    @property
    def rounds(self) -> int:
        """How often the rows were gone through."""
        return self.heard.count(1)


def stranger_adds_a_building() -> object:
    """In another district."""
    stranger = person("stranger")
    values = {"code": "FAR", "name": "Far School", "latitude": "42.1", "longitude": "-91.2"}
    return building_save(actor=stranger, row=Building(district=stranger.district), values=values)


def coordinator_notes_a_support() -> object:
    """Of a student whose name the import changes; the file has no column for it."""
    support = Support(student=Student.objects.get(code="S01"))
    return support_save(actor=person("coordinator"), row=support, values={"text": "Walker"})


def mate_adds_a_student() -> object:
    """Beside those that the import adds."""
    values = {
        "code": "MATE", "first_name": "Bo", "last_name": "Winn", "grade": "5",
        "building": Building.objects.get(code="SOUTH"),
    }  # fmt: skip
    mate = person("mate")
    return student_save(actor=mate, row=Student(district=mate.district), values=values)


def sent() -> ImportBatch:
    """A file of more rows than are checked at once."""
    return import_send(actor=person("teacher"), kind="students", filename="a.csv", content=TABLE.encode())


def checked(others: Others) -> ImportBatch:
    """The preview of that file, made while others work."""
    batch = sent()
    import_check(batch=batch, progress=others.progress, finishing=alone)
    batch.refresh_from_db()
    return batch


def told(batch: ImportBatch, others: Others) -> dict[str, Any]:
    """What came of it all."""
    renamed = Student.objects.get(code="S01")
    return {
        "others": others.said,
        "rounds": others.rounds,
        "state": batch.state,
        "problems": batch.problem_count,
        "new": Student.objects.filter(code__startswith="N").count(),
        "first": [renamed.last_name, ", ".join(one.text for one in renamed.support_rows.all())],
        "mate": Student.objects.filter(code="MATE").count(),
        "entries": AuditEntry.objects.filter(action="student_save", actor=batch.person).count(),
    }


def check() -> dict[str, Any]:
    """A preview: the stranger works in another district, the coordinator in this one."""
    others = Others(lambda: (stranger_adds_a_building(), coordinator_notes_a_support()))
    batch = checked(others)
    return told(batch, others)


def save() -> dict[str, Any]:
    """A saving that checks once more, while others change the district: it checks a third time and keeps theirs."""
    batch = checked(Others())
    coordinator_notes_a_support()
    batch = import_save(actor=person("teacher"), batch=batch)
    assert batch.state == ImportBatch.State.SAVING, batch.state
    others = Others(mate_adds_a_student, stranger_adds_a_building)
    import_save_checked(batch=batch, progress=others.progress, finishing=alone)
    batch.refresh_from_db()
    return told(batch, others)


def undo() -> dict[str, Any]:
    """Saved as checked, then taken back."""
    batch = import_save(actor=person("teacher"), batch=checked(Others()))
    assert batch.state == ImportBatch.State.COMMITTED, batch.state
    return told(import_undo(actor=person("teacher"), batch=batch), Others())


ACTIONS: dict[str, Callable[[], dict[str, Any]]] = {"check": check, "save": save, "undo": undo}


if __name__ == "__main__":
    make_cast()
    sys.stdout.write(json.dumps(ACTIONS[sys.argv[1]]()))
