"""The page that asks which column of a district's own table is which."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from accounts.errors import ApplicationError
from accounts.pages import find_changeable, person_of
from schedule.imports.forms import OwnColumnsForm
from schedule.imports.models import ImportBatch
from schedule.imports.pages.tables import crumbs, may_import, title_of
from schedule.imports.services.own_tables import own_table_of
from schedule.imports.services.work import import_columns
from schedule.imports.tables.every import find_table


@may_import
@require_http_methods(["GET", "POST"])
def import_columns_page(request: HttpRequest, pk: int) -> HttpResponse:
    """Which column is which, with what it seems to be; sent, what the file would do."""
    person = person_of(request)
    batch = find_changeable(ImportBatch, person, pk)
    own, table = own_table_of(batch), find_table(batch.kind)
    if table is None:
        return redirect("import_home")
    kept = frozenset(batch.content["own"].get("kept_rows", ()))
    form = OwnColumnsForm(request.POST if request.method == "POST" else None, own=own, table=table, kept=kept)
    if form.is_valid():
        try:
            import_columns(actor=person, batch=batch, columns=form.columns, left_out=form.left_out)
        except ApplicationError as error:
            if error.code != "columns_unclear":
                raise
            form.add_error(None, error.message)
        else:
            return redirect("import_preview", batch.pk)
    context = {
        "batch": batch,
        "table": table,
        "title": title_of(batch.kind),
        "crumbs": crumbs(),
        "form": form,
        "own": own,
        "is_sender": batch.person_id == person.pk,
    }
    return render(request, "schedule/imports/columns.html", context, status=422 if form.is_bound else 200)
