"""Pages that bring a district's own tables in, and take them back out."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from accounts.errors import ApplicationError
from accounts.fields import DateField
from accounts.files import FILE_TYPES, write_csv
from accounts.models import Person
from accounts.pages import Crumbs, do_and_say, find_changeable, find_visible, person_of, watched
from caseload.plans.frequency import read_frequency, reading_words
from jobs.models import Job
from schedule.calendar.models import WordRule
from schedule.calendar.published.groups import EventGroup
from schedule.calendar.selectors.sources import gone_days
from schedule.imports.files.export import export_rows
from schedule.imports.files.problems import RowProblem
from schedule.imports.files.writing import write_problems, write_template, write_workbook
from schedule.imports.forms import SeveralUploadForm, UploadForm
from schedule.imports.models import ImportBatch
from schedule.imports.selectors import import_list, import_open_previews, import_undoable_ids
from schedule.imports.services.answers import IN_THEIR_CELL, import_answer
from schedule.imports.services.calendar_files import KIND as CALENDAR
from schedule.imports.services.calendar_files import NO_SUCH_END, calendar_commit
from schedule.imports.services.tables import SEVERAL, import_cancel, import_undo
from schedule.imports.services.work import import_save, import_send
from schedule.imports.tables.columns import ColumnKind, Table
from schedule.imports.tables.every import find_table, tables_for
from schedule.imports.tables.staff import PEOPLE

_FORMS = ("csv", "xlsx")
_SHOWN = 200
may_import = permission_required("import.run", raise_exception=True)


@dataclass(frozen=True, slots=True)
class TitledTally:
    """One table's counts, with its title."""

    title: str
    new: int
    changed: int
    same: int
    removed: int


def crumbs() -> Crumbs:
    """The list of imports."""
    return [("Import", reverse("import_home"))]


def title_of(kind: str) -> str:
    """What an import is called."""
    table = find_table(kind)
    if table is not None:
        return table.title
    return "Calendar" if kind == CALENDAR else "Several tables"


def tallies_of(batch: ImportBatch) -> list[TitledTally]:
    """The counts of an import by table."""
    return [TitledTally(title_of(kind), **tally) for kind, tally in batch.content.get("tallies", {}).items()]


@may_import
@require_GET
def import_home(request: HttpRequest) -> HttpResponse:
    """Every table with its templates, and the last imports."""
    person = person_of(request)
    undoable = import_undoable_ids(person)
    done = [(batch, title_of(batch.kind), tallies_of(batch), batch.pk in undoable) for batch in import_list(person)]
    previews = [(batch, title_of(batch.kind)) for batch in import_open_previews(person)]
    context = {"tables": tables_for(person.has_perm), "done": done, "previews": previews}
    return render(request, "schedule/imports/home.html", context)


@may_import
@require_http_methods(["GET", "POST"])
def import_upload(request: HttpRequest, kind: str) -> HttpResponse:
    """One table's columns and the form to send it; or the form for several tables."""
    table = _table(kind, person_of(request))
    form_class = SeveralUploadForm if table is None else UploadForm
    form = form_class(request.POST, request.FILES) if request.method == "POST" else form_class()
    if form.is_valid():
        batch = try_preview(request, form, kind)
        if batch is not None:
            return redirect("import_preview", batch.pk)
    context = {"table": table, "kind": kind, "title": title_of(kind), "form": form, "crumbs": crumbs()}
    status = 422 if form.is_bound else 200
    return render(request, "schedule/imports/upload.html", context, status=status)


def try_preview(request: HttpRequest, form: UploadForm | SeveralUploadForm, kind: str) -> ImportBatch | None:
    """The preview, or nothing and the reason at the form's file."""
    filename, content = form.read()
    try:
        return import_send(actor=person_of(request), kind=kind, filename=filename, content=content)
    except ApplicationError as error:
        refuse(form, error)
        return None


def refuse(form: forms.Form, error: ApplicationError) -> None:
    """Put what a service refused at the file; what isn't there or isn't allowed gets its own page."""
    if error.status in {403, 404}:
        raise error
    form.add_error("file" if "file" in form.fields else None, error.message)


def _table(kind: str, person: Person) -> Table | None:
    """The table of an address; None for several at once. Raises Http404, PermissionDenied."""
    table = find_table(kind)
    if table is None and kind != SEVERAL:
        raise Http404
    if table is not None and not person.has_perm(table.permission):
        raise PermissionDenied
    return table


@may_import
@require_GET
def import_template(request: HttpRequest, kind: str, form: str) -> HttpResponse:
    """A blank template."""
    person = person_of(request)
    table = _table(kind, person)
    if form not in _FORMS or (table is None and form == "csv"):
        raise Http404
    if table is None:
        blank: list[tuple[Table, list[tuple[str, ...]]]] = [(one, []) for one in tables_for(person.has_perm)]
        return _download(write_workbook(blank), "district-template", form)
    return _download(write_template(table, form), f"{kind}-template", form)


@may_import
@require_GET
def import_export(request: HttpRequest, kind: str, form: str) -> HttpResponse:
    """The district's own rows as far as the person sees them."""
    person = person_of(request)
    table = _table(kind, person)
    if form not in _FORMS or (table is None and form == "csv"):
        raise Http404
    tables = tables_for(person.has_perm) if table is None else (table,)
    filled = [(one, list(export_rows(person, one))) for one in tables]
    name = "district" if table is None else kind
    return _download(write_workbook(filled) if form == "xlsx" else write_csv(*_headed(filled[0])), name, form)


def _headed(filled: tuple[Table, list[tuple[str, ...]]]) -> tuple[Sequence[str], list[tuple[str, ...]]]:
    return filled[0].headers, filled[1]


def _download(content: bytes, name: str, form: str) -> HttpResponse:
    """A file to keep."""
    headers = {"Content-Disposition": f'attachment; filename="{name}.{form}"', "Cache-Control": "no-store"}
    return HttpResponse(content, content_type=FILE_TYPES[form], headers=headers)


@may_import
@require_GET
def import_preview_page(request: HttpRequest, pk: int) -> HttpResponse:
    """What an import would do, or did."""
    batch = find_visible(ImportBatch, person_of(request), pk)
    if batch.state == ImportBatch.State.MATCHING:
        return redirect("import_columns", batch.pk)
    return show_waiting(request, batch) if batch.is_at_work or batch.is_cut_off else show_batch(request, batch)


def show_waiting(request: HttpRequest, batch: ImportBatch) -> HttpResponse:
    """How far an import is that a job checks or saves. htmx asks for the moving part only."""
    done, total = (batch.job.progress.get(name, 0) if batch.job else 0 for name in ("done", "total"))
    context = {
        "batch": batch,
        "title": title_of(batch.kind),
        "crumbs": crumbs(),
        "done": done,
        "percent": 100 * done // total if total else 0,
        "waits": batch.job is not None and batch.job.state == Job.State.WAITING,
        "own": batch.person_id == person_of(request).pk,
    }
    template = "schedule/imports/waiting.html"
    return watched(request, template, context)


def _problems(content: Mapping[str, Any]) -> dict[str, Any]:
    found = [RowProblem.from_json(stored) for stored in content.get("problems", [])]
    return {
        "problems": [problem for problem in found if not problem.warning],
        "warnings": [problem for problem in found if problem.warning],
        "asked": _asked(found),
    }


def _asked(problems: Sequence[RowProblem]) -> list[dict[str, Any]]:
    """Each value with readings once: the first problem, what kind of cell, its rows, its readings in words."""
    found: dict[tuple[str, str], list[RowProblem]] = {}
    for one in problems:
        if one.readings:
            found.setdefault((one.table, one.value), []).append(one)
    return [
        {
            "problem": each[0],
            "kind": (kind := _kind_of(each[0])),
            "rows": [one.row for one in each],
            "readings": [
                (text, text if kind in IN_THEIR_CELL else reading_words(read_frequency(text)))
                for text in each[0].readings
            ],
        }
        for each in found.values()
    ]


def _kind_of(problem: RowProblem) -> ColumnKind | None:
    table = find_table(problem.table)
    return next((one.kind for one in table.columns if one.header == problem.column), None) if table else None


def _events(content: Mapping[str, Any]) -> dict[str, Any]:
    """A calendar's events, those first of which somebody has to be asked."""
    placed = list(enumerate(EventGroup.from_json(stored) for stored in content["groups"]))
    return {
        "questions": [one for one in placed if one[1].doubt],
        "kinds": WordRule.Kind.choices,
        "groups": [one for one in placed if not one[1].doubt],
        "source": content["source"],
        "notes": content["notes"],
        "labels": content.get("labels", []),
        "gone": gone_days(content),
        "keeps_asking": "calendar_source" in content,
    }


def show_batch(request: HttpRequest, batch: ImportBatch, *, message: str = "", status: int = 200) -> HttpResponse:
    """The page of an import that nothing works on; `message` says why it was not committed."""
    if request.headers.get("HX-Request"):
        return HttpResponse(headers={"HX-Refresh": "true"})
    person = person_of(request)
    content = batch.content
    context: dict[str, Any] = {
        "batch": batch,
        "title": title_of(batch.kind),
        "crumbs": crumbs(),
        "message": message or content.get("message", ""),
        **_problems(content),
        "several": batch.kind == SEVERAL,
        "own_table": "own" in content,
        "tallies": tallies_of(batch),
        "own": batch.person_id == person.pk,
        "undoable": batch.pk in import_undoable_ids(person),
    }
    if batch.state != ImportBatch.State.PREVIEW:
        context |= {name: content.get(name, []) for name in ("open", "notes", "labels", "deactivated")}
        context["has_people"] = PEOPLE.kind in content.get("tallies", {})
        return render(request, "schedule/imports/done.html", context, status=status)
    if batch.kind == CALENDAR:
        context |= _events(content)
        return render(request, "schedule/imports/calendar_preview.html", context, status=status)
    context |= _outcomes(content)
    return render(request, "schedule/imports/preview.html", context, status=status)


def _outcomes(content: dict[str, Any]) -> dict[str, Any]:
    """What each row does, as far as a page can show it."""
    rows = [
        (title_of(kind), row, action, words)
        for kind, outcomes in content.get("outcomes", {}).items()
        for row, action, words in outcomes
    ]
    return {"outcomes": rows[:_SHOWN], "more_outcomes": max(0, len(rows) - _SHOWN)}


@may_import
@require_GET
def import_problems(request: HttpRequest, pk: int) -> HttpResponse:
    """The sheet of problems."""
    batch = find_visible(ImportBatch, person_of(request), pk)
    problems = [RowProblem.from_json(stored) for stored in batch.content.get("problems", [])]
    return _download(write_problems(problems), f"{batch.kind}-problems", "csv")


@may_import
@require_POST
def import_commit_action(request: HttpRequest, pk: int) -> HttpResponse:
    """Do what the preview shows."""
    person = person_of(request)
    batch = find_changeable(ImportBatch, person, pk)
    try:
        if batch.kind == CALENDAR:
            places = range(len(batch.content.get("groups", [])))
            kinds = [request.POST.get(f"kind-{place}", "") for place in places]
            ends = {place: end for place in places if (end := end_in(request, f"until-{place}")) is not None}
            calendar_commit(actor=person, batch=batch, kinds=kinds, remove=_ticked(request, batch), ends=ends)
        else:
            import_save(actor=person, batch=batch)
    except ApplicationError as error:
        if error.code != "import_has_problems":
            raise
        return show_batch(request, batch, message=error.message, status=error.status)
    if batch.state == ImportBatch.State.COMMITTED:
        messages.success(request, "The import is saved.")
    return redirect("import_preview", batch.pk)


def end_in(request: HttpRequest, name: str) -> dt.date | None:
    """The last day of a break as it was typed, None if nothing was. Raises `ApplicationError`."""
    try:
        day: dt.date | None = DateField(required=False).clean(request.POST.get(name, ""))
    except ValidationError as error:
        raise ApplicationError(NO_SUCH_END, code="choices_missing", status=422) from error
    return day


def _ticked(request: HttpRequest, batch: ImportBatch) -> list[int]:
    """Days that are to be taken out, of those that the preview offers."""
    offered = [gone["entry"] for gone in batch.content.get("gone", [])]
    return [key for key in offered if f"remove-{key}" in request.POST]


@may_import
@require_POST
def import_answer_action(request: HttpRequest, pk: int) -> HttpResponse:
    """Read a statement as the button says, and show the preview again."""
    person = person_of(request)
    told = {name: request.POST.get(name, "") for name in ("table", "value", "reading")}
    batch = find_changeable(ImportBatch, person, pk)
    do_and_say(request, lambda: import_answer(actor=person, batch=batch, **told))
    return redirect("import_preview", batch.pk)


@may_import
@require_POST
def import_cancel_action(request: HttpRequest, pk: int) -> HttpResponse:
    """Discard a preview."""
    person = person_of(request)
    import_cancel(actor=person, batch=find_changeable(ImportBatch, person, pk))
    messages.info(request, "The preview is discarded. Nothing was saved.")
    return redirect("import_home")


@may_import
@require_POST
def import_undo_action(request: HttpRequest, pk: int) -> HttpResponse:
    """Take an import back, or say why not."""
    person = person_of(request)
    batch = find_changeable(ImportBatch, person, pk)
    undone = do_and_say(request, lambda: import_undo(actor=person, batch=batch))
    if undone is None:
        return redirect("import_preview", batch.pk)
    staying = undone.content["deactivated"]
    if staying:
        told = f"The import is undone. These people have something of their own by now: {', '.join(staying)}."
        messages.warning(request, f"{told} They stay, and can't sign in anymore.")
    else:
        messages.success(request, "The import is undone: everything is as it was before it.")
    return redirect("import_home")
