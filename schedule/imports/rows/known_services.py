"""Services that rows name by the numbers of an export: the district's own, or new ones of several rows."""

from collections.abc import Sequence

from accounts.dates import span_words
from caseload.plans.models import ContinuingService, Plan, ServiceLine
from schedule.imports.rows.context import ParsedRow, TableRun

type Key = tuple[int, int]
"""A student's id and a number of the file."""


class KnownServices:
    """By the numbers of a file: services of the student, or those that rows before began."""

    def __init__(self) -> None:
        self._by_key: dict[Key, ContinuingService | None] = {}
        self._changed: set[int] = set()

    def service(self, row: ParsedRow, plan: Plan) -> ContinuingService | None:
        """The service that a row names, if there is one of this student's."""
        number = row.get("service")
        if number is None:
            return None
        key = (plan.student_id, number)
        if key not in self._by_key:
            self._by_key[key] = ContinuingService.objects.filter(pk=number, student=plan.student_id).first()
        return self._by_key[key]

    def lines_of(self, row: ParsedRow, plan: Plan, lines: Sequence[ServiceLine]) -> list[ServiceLine]:
        """Those of a plan's lines that a row can mean: of the service that it names, or all of them."""
        service = self.service(row, plan)
        return [line for line in lines if service is None or line.service_id == service.pk]

    def line_of(self, row: ParsedRow, plan: Plan) -> ServiceLine:
        """A new line of the plan, of the service that the row names, if it is known."""
        service = self.service(row, plan)
        return ServiceLine(plan=plan) if service is None else ServiceLine(plan=plan, service=service)

    def keep(self, row: ParsedRow, line: ServiceLine | None) -> None:
        """From a row on its number stands for the service of its line."""
        number = row.get("service")
        if line is not None and number is not None:
            key = (line.plan.student_id, number)
            self._by_key[key] = self._by_key.get(key) or line.service

    def is_stale(self, run: TableRun, row: ParsedRow, line: ServiceLine) -> bool:
        """Whether somebody has changed the line's service since the row was exported, with the problem noted."""
        seen, service = row.get("revision"), line.service
        if seen is None or seen == service.revision or service.pk in self._changed:
            self._changed.add(service.pk)
            return False
        versions = service.versions.order_by("start")
        told = "; ".join(f"{one.statement} from {span_words(one.start, one.end)}" for one in versions)
        run.fault(
            row,
            "revision",
            f"Somebody has changed this service since it was exported. It is now {told}.",
            f"Its revision is {service.revision} now. Export the table again, or leave the cell empty to save the "
            "row all the same.",
        )
        return True
