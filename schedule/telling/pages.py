"""Pages of progress reports: a marking period's students, one student's reports, one report from draft to print."""

import datetime as dt
from collections.abc import Callable, Mapping
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.middleware.csp import get_nonce
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.pages import Crumbs, ListPage, find_changeable, list_page, person_of
from accounts.selectors import today_of
from caseload.ledger.defaults import NO_JUDGMENT
from caseload.plans.models import Student
from caseload.plans.names import student_names
from schedule.calendar.models import MarkingPeriod
from schedule.reports.pages import sent
from schedule.telling.files import report_html, report_pdf
from schedule.telling.forms import BeginForm, ReportSignForm, SendForm, sentences_in
from schedule.telling.models import ProgressReport
from schedule.telling.selectors.reports import (
    PeriodStudent,
    period_students,
    period_to_tell,
    periods_of,
    report_view,
    reports_of,
    schools_of,
    untouched_of_period,
)
from schedule.telling.services import reports as services
from schedule.telling.services.period import period_reports_begin, period_reports_take_back
from schedule.telling.services.sending import AUDIENCES, pdf_file, report_send
from schedule.weeks.pages.request import number_in


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required(services.WRITE, raise_exception=True)
def progress_reports(request: HttpRequest) -> HttpResponse:
    """A marking period's students, each with the state of the report; a POST begins one."""
    viewer, today = person_of(request), today_of(person_of(request))
    periods = periods_of(viewer, today)
    asked = number_in(request, "period")
    period = next((one for one in periods if one.pk == asked), None) if asked else period_to_tell(periods, today)
    if request.method == "POST":
        return _period_act(request, viewer, period, today)
    context = {
        "periods": periods,
        "period": period,
        "runs": period is not None and period.last_day >= today,
        "crumbs": [("Reports", reverse("report_home"))],
    }
    if period is not None:
        context |= _period_context(request, viewer, period)
    return render(request, "schedule/telling/period.html", context)


def _period_act(request: HttpRequest, viewer: Person, period: MarkingPeriod | None, today: dt.date) -> HttpResponse:
    """What a button of the page does: for everybody by its name, else for one student."""
    act = PERIOD_ACTS.get(request.POST.get("act", ""))
    if act is None or period is None:
        return _begun(request, viewer, period, today)
    return act(request, viewer, period)


def _period_context(request: HttpRequest, viewer: Person, period: MarkingPeriod) -> dict[str, Any]:
    """The period's students by school, and how far their reports are."""
    rows = period_students(viewer, period)
    page: ListPage[PeriodStudent] = list_page(request, rows)
    return {
        "rows": rows,
        "page": page,
        "schools": schools_of(rows, page.rows),
        "signed": sum(1 for one in rows if one.report is not None and one.report.is_signed),
        "left": sum(1 for one in rows if one.report is None),
        "untouched": untouched_of_period(viewer, period).count(),
    }


def _begun(request: HttpRequest, viewer: Person, period: MarkingPeriod | None, today: dt.date) -> HttpResponse:
    """Begin the report of one student for a marking period."""
    student = find_changeable(Student, viewer, _number(request, "student"))
    if period is None:
        messages.error(request, "No marking period has begun. Begin a report for other dates here.")
        return redirect("student_progress_reports", student.pk)
    try:
        report = services.report_begin(
            actor=viewer,
            student=student,
            kind=ProgressReport.Kind.PERIOD,
            name=period.name,
            first_day=period.first_day,
            last_day=period.last_day,
            today=today,
        )
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect(request.get_full_path())
    return redirect("progress_report", report.pk)


def _all_begun(request: HttpRequest, viewer: Person, period: MarkingPeriod) -> HttpResponse:
    """Begin those of everybody who has none, and say who is left."""
    found = period_reports_begin(actor=viewer, period=period, today=today_of(viewer))
    names = student_names(viewer)
    if found.begun:
        count = found.begun
        messages.success(request, f"{count} report{'' if count == 1 else 's'} begun. Read and sign each one.")
    for student, why in found.refused:
        messages.error(request, f"{names.full.get(student.pk, student.code)}: {why}")
    if found.left:
        messages.info(request, f"{found.left} are left: press again.")
    return redirect(request.get_full_path())


def _all_taken_back(request: HttpRequest, viewer: Person, period: MarkingPeriod) -> HttpResponse:
    """Remove those that nobody has worked on."""
    count = period_reports_take_back(actor=viewer, period=period, now=timezone.now())
    messages.success(request, f"{count} removed. Each can be brought back on its student's page.")
    return redirect(request.get_full_path())


PERIOD_ACTS: Mapping[str, Callable[[HttpRequest, Person, MarkingPeriod], HttpResponse]] = {
    "all": _all_begun,
    "back": _all_taken_back,
}


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required(services.WRITE, raise_exception=True)
def student_progress_reports(request: HttpRequest, pk: int) -> HttpResponse:
    """A student's reports, and a new one for any dates."""
    viewer, today = person_of(request), today_of(person_of(request))
    student = find_changeable(Student, viewer, pk)
    form = BeginForm(request.POST or None, initial=_annual(student, today))
    if request.method == "POST" and (report := _of_form(viewer, student, form, today)) is not None:
        return redirect("progress_report", report.pk)
    found = reports_of(viewer, student)
    context = {
        "student": student,
        "reports": [one for one in found if one.removed_at is None],
        "removed": [one for one in found if one.removed_at is not None],
        "form": form,
        "crumbs": [(student.full_name, reverse("student_detail", args=[student.pk]))],
    }
    return render(request, "schedule/telling/student.html", context, status=422 if form.errors else 200)


def _of_form(viewer: Person, student: Student, form: BeginForm, today: dt.date) -> ProgressReport | None:
    """The report that was begun, or nothing and the problems in the form."""
    if not form.is_valid():
        return None
    try:
        return services.report_begin(actor=viewer, student=student, today=today, **form.cleaned_data)
    except ValidationError as error:
        for name, texts in error.message_dict.items():
            form.add_error(name if name in form.fields else None, texts)
    return None


def _annual(student: Student, today: dt.date) -> dict[str, Any]:
    """What a page for the annual meeting tells of: the year up to today."""
    return {
        "kind": ProgressReport.Kind.ANNUAL,
        "name": "Annual meeting",
        "first_day": max(today - dt.timedelta(days=365), student.first_day or dt.date.min),
        "last_day": today,
    }


@require_safe
@permission_required(services.WRITE, raise_exception=True)
def progress_report(request: HttpRequest, pk: int) -> HttpResponse:
    """One report: figures, goals, sentences to be worded and read, and the signature."""
    return _show(request, _report(request, pk))


def _report(request: HttpRequest, pk: int) -> ProgressReport:
    viewer = person_of(request)
    row = find_changeable(ProgressReport, viewer, pk)
    return ProgressReport.objects.select_related("student__district", "student__building").get(pk=row.pk)


def _show(
    request: HttpRequest, report: ProgressReport, sign: ReportSignForm | None = None, problem: str = ""
) -> HttpResponse:
    viewer = person_of(request)
    view = report_view(viewer, report, today_of(viewer))
    context = {
        "view": view,
        "report": report,
        "sign": sign or ReportSignForm(),
        "send": SendForm(),
        "languages": ProgressReport.Language.choices,
        "problem": problem,
        "no_judgment": NO_JUDGMENT,
        "crumbs": _crumbs(report),
    }
    return render(request, "schedule/telling/report.html", context, status=422 if problem else 200)


def _crumbs(report: ProgressReport) -> Crumbs:
    return [
        ("Progress reports", reverse("progress_reports")),
        (report.student.full_name, reverse("student_progress_reports", args=[report.student_id])),
    ]


@require_POST
@permission_required(services.WRITE, raise_exception=True)
def progress_report_act(request: HttpRequest, pk: int) -> HttpResponse:
    """Everything that is done to a report, by the button's name."""
    report = _report(request, pk)
    act = ACTS.get(request.POST.get("act", ""))
    if act is None:
        raise Http404
    try:
        said = act(request, report)
    except ValidationError as error:
        return _show(request, report, problem=" ".join(error.messages))
    except ApplicationError as error:
        if error.status in {403, 404}:
            raise
        return _show(request, report, problem=error.message)
    messages.success(request, said)
    if request.POST.get("act") == "remove":
        return redirect("student_progress_reports", report.student_id)
    return redirect("progress_report", report.pk)


def _number(request: HttpRequest, name: str) -> int:
    """A whole number that a form sends; 0, which is nobody's, for anything else."""
    text = request.POST.get(name, "")
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else 0


def _revision(request: HttpRequest) -> int:
    return _number(request, "revision")


def _save(request: HttpRequest, report: ProgressReport) -> str:
    words, read = sentences_in(request.POST)
    services.sentences_save(
        actor=person_of(request),
        report=report,
        words=words,
        read=read,
        expected_revision=_revision(request),
        now=timezone.now(),
    )
    return "Saved."


def _sign(request: HttpRequest, report: ProgressReport) -> str:
    actor = person_of(request)
    services.report_sign(
        actor=actor,
        report=report,
        name=request.POST.get("name", ""),
        expected_revision=_revision(request),
        today=today_of(actor),
        now=timezone.now(),
    )
    return "Signed. It can be printed now, and stays as it is until you open it again."


def _reopen(request: HttpRequest, report: ProgressReport) -> str:
    services.report_reopen(actor=person_of(request), report=report, expected_revision=_revision(request))
    return "Open again. Sign it once more before you print it."


def _again(request: HttpRequest, report: ProgressReport) -> str:
    actor = person_of(request)
    services.report_draft_again(
        actor=actor, report=report, expected_revision=_revision(request), today=today_of(actor)
    )
    return "Drafted from today's data. What you worded yourself stayed."


def _language(request: HttpRequest, report: ProgressReport) -> str:
    actor = person_of(request)
    services.report_language_choose(
        actor=actor,
        report=report,
        language=request.POST.get("language", ""),
        expected_revision=_revision(request),
        today=today_of(actor),
    )
    return "The family's version is in the other language. Read it before you sign."


def _remove(request: HttpRequest, report: ProgressReport) -> str:
    services.report_remove(
        actor=person_of(request), report=report, expected_revision=_revision(request), now=timezone.now()
    )
    return "Removed. It can be brought back below."


def _restore(request: HttpRequest, report: ProgressReport) -> str:
    services.report_restore(actor=person_of(request), report=report)
    return "It is back as it was."


ACTS: Mapping[str, Callable[[HttpRequest, ProgressReport], str]] = {
    "save": _save,
    "sign": _sign,
    "reopen": _reopen,
    "again": _again,
    "language": _language,
    "remove": _remove,
    "restore": _restore,
}


@require_POST
@permission_required(services.WRITE, raise_exception=True)
def progress_report_print(request: HttpRequest, pk: int, audience: str) -> HttpResponse:
    """A signed report for the team or the family, to print or as PDF; it is written down."""
    report, viewer = _report(request, pk), person_of(request)
    if audience not in AUDIENCES:
        raise Http404
    form = "pdf" if "pdf" in request.POST else "print"
    view = report_view(viewer, report, today_of(viewer))

    def make() -> HttpResponse:
        if form == "pdf":
            return sent(pdf_file(report, audience, report_pdf(view, audience)))
        return HttpResponse(
            report_html(view, audience, str(get_nonce(request))), headers={"Cache-Control": "no-store"}
        )

    try:
        return report_send(
            actor=viewer, report=report, audience=audience, why=request.POST.get("why", ""), make=make, form=form
        )
    except ApplicationError as error:
        if error.status in {403, 404}:
            raise
        return _show(request, report, problem=error.message)
