"""How the district stands: the coordinator's page, its file, and what waits of one kind."""

import datetime as dt
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied
from django.core.paginator import Page, Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views import View
from django.views.decorators.http import require_safe

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.pages import person_of
from accounts.services import district_of
from caseload.ledger.report_data import Chart, Report, step_chart
from schedule.overview.forms import OverviewForm
from schedule.overview.report import as_of_words, overview_report
from schedule.overview.selectors.now import changes_since, month_standing, unserved_students
from schedule.overview.selectors.shown import overview
from schedule.overview.selectors.waiting import waiting_of
from schedule.overview.services import PERMISSION, counts_ask
from schedule.overview.sums import BY_WORDS, Overview
from schedule.reports.forms import ExportForm
from schedule.reports.pages import sent
from schedule.reports.selectors.shared import made
from schedule.reports.services import report_export
from schedule.weeks.pages.request import number_in
from schedule.weeks.selectors.pages import district_today

ROWS_SHOWN = 50
WEEK = dt.timedelta(days=7)


class OverviewPage(View):
    """What is looked at stands in the address; a file, and counting anew, by a POST."""

    http_method_names = ["get", "head", "post", "options"]

    @property
    def viewer(self) -> Person:
        """Who is signed in."""
        return person_of(self.request)

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        """Ask the role first."""
        if not person_of(request).has_perm(PERMISSION):
            raise PermissionDenied
        return super().dispatch(request, *args, **kwargs)

    def get(self, request: HttpRequest) -> HttpResponse:
        """On screen."""
        return self._show(ExportForm())

    def post(self, request: HttpRequest) -> HttpResponse:
        """As a file, or counted anew."""
        if "count" in request.POST:
            asked = counts_ask(actor=self.viewer)
            messages.success(request, _asked_words(asked))
            return redirect(request.get_full_path())
        export = ExportForm(request.POST)
        if not export.is_valid():
            return self._show(export, status=422)
        report = report_of(self.viewer, overview(self.viewer, self._form().asked), district_today(self.viewer))
        district = district_of(self.viewer)
        try:
            made_file = report_export(
                actor=self.viewer,
                district=district,
                subject=district,
                report=report,
                form=export.cleaned_data["form"],
                why=export.cleaned_data["why"],
            )
        except ApplicationError as error:
            export.add_error(None, error.message)
            return self._show(export, status=error.status)
        return sent(made_file)

    def _form(self) -> OverviewForm:
        asked = {"by": "teacher", **self.request.GET.dict()}
        return OverviewForm(asked, viewer=self.viewer)

    def _show(self, export: ExportForm, status: int = 200) -> HttpResponse:
        form = self._form()
        found = overview(self.viewer, form.asked)
        today = district_today(self.viewer)
        asked = self.request.GET.copy()
        asked.pop("page", None)
        page = self.request.GET.get("page")
        lines, loads = _page(found.lines, page), _page(found.loads, page)
        context = {
            "form": form,
            "found": found,
            "as_of": _as_of(found),
            "by": BY_WORDS[found.asked.by],
            "lines": lines,
            "loads": loads,
            "pages": lines if lines.paginator.num_pages >= loads.paginator.num_pages else loads,
            "chart": _chart(found),
            "month": month_standing(self.viewer, today),
            "unserved": unserved_students(self.viewer, today),
            "changes": changes_since(self.viewer, timezone.now() - WEEK),
            "export": export,
            "asked": asked.urlencode(),
        }
        return render(self.request, "schedule/overview/overview.html", context, status=status)


def _asked_words(asked: int) -> str:
    if not asked:
        return "There is nobody to count yet."
    teachers = "One teacher is" if asked == 1 else f"{asked} teachers are"
    return f"{teachers} being counted. Open this page again in a minute or two."


def _page(rows: Any, page: str | None) -> Page[Any]:
    return Paginator(rows, ROWS_SHOWN).get_page(page)


def _as_of(found: Overview) -> tuple[dt.datetime | None, dt.datetime | None]:
    """Local moments of the oldest and the newest count."""
    oldest, newest = found.oldest, found.newest
    return (
        timezone.localtime(oldest) if oldest is not None else None,
        timezone.localtime(newest) if newest is not None else None,
    )


def _chart(found: Overview) -> Chart | None:
    """Owed and given over the weeks that were counted; None for fewer than two."""
    weeks = found.weeks
    if len(weeks) < 2:
        return None
    owed, given = (
        [(week.last_date, value) for week, value in zip(weeks, _steps(of), strict=True)]
        for of in (
            [week.sums.owed for week in weeks],
            [week.sums.given for week in weeks],
        )
    )
    return step_chart(owed, given, weeks[0].last_date, weeks[-1].last_date)


def _steps(totals: list[int]) -> list[int]:
    """What each week adds to the one before it; the first one brings what was there."""
    return [later - earlier for earlier, later in zip([0, *totals], totals, strict=False)]


def report_of(viewer: Person, found: Overview, today: dt.date) -> Report:
    """The page as a report, for a file."""
    return overview_report(found, district_of(viewer).name, made(viewer, today), as_of_words(*_as_of(found)))


@require_safe
@permission_required(PERMISSION, raise_exception=True)
def waits_page(request: HttpRequest, kind: int) -> HttpResponse:
    """What waits of one kind, sentence by sentence; those with the cause of a row if one is named."""
    viewer = person_of(request)
    teacher = number_in(request, "teacher")
    found = waiting_of(viewer, kind, number_in(request, "row"), teacher)
    asked = request.GET.copy()
    asked.pop("page", None)
    context = {
        "found": found,
        "page": _page(found.rows, request.GET.get("page")),
        "asked": asked.urlencode(),
        "crumbs": [("How the district stands", reverse("overview"))],
    }
    return render(request, "schedule/overview/waits.html", context)
