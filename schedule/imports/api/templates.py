"""The API of the tables that can be imported: their columns, blank templates, and the district's own rows."""

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import permissions, serializers, viewsets
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import RolePermission, actor_of
from accounts.files import FILE_TYPES, write_csv
from schedule.imports.api.tables import PERMISSION
from schedule.imports.files.export import export_rows
from schedule.imports.files.writing import write_template, write_workbook
from schedule.imports.tables.columns import Column, Table
from schedule.imports.tables.every import find_table, tables_for

FORMS = {form: FILE_TYPES[form] for form in ("csv", "xlsx")}


class ColumnSerializer(DataclassSerializer[Column]):
    """A column of a table that can be imported."""

    class Meta:
        dataclass = Column
        fields = ("header", "help", "example", "required")


class ImportTableSerializer(DataclassSerializer[Table]):
    """A table that can be imported."""

    columns = ColumnSerializer(many=True)

    class Meta:
        dataclass = Table
        fields = ("kind", "title", "about", "columns")


_file_of_table = extend_schema(
    parameters=[OpenApiParameter("form", enum=list(FORMS), default="csv")],
    responses={(200, media_type): OpenApiTypes.BINARY for media_type in FORMS.values()},
)


class ImportTableViewSet(viewsets.ViewSet):
    """The tables that can be imported, and their blank templates."""

    permission_classes = (permissions.IsAuthenticated, RolePermission)
    read_permission = write_permission = PERMISSION
    lookup_field = "kind"
    lookup_value_converter = "slug"

    @extend_schema(responses=ImportTableSerializer(many=True))
    def list(self, request: Request) -> Response:
        """Every table that the person may bring, with its columns."""
        return Response(ImportTableSerializer(tables_for(actor_of(request).has_perm), many=True).data)

    @_file_of_table
    @action(detail=True)
    def template(self, request: Request, kind: str) -> HttpResponse:
        """A blank template as CSV or XLSX."""
        table, form = self._table(request, kind), self._form()
        return self._download(write_template(table, form), f"{kind}-template", form)

    @_file_of_table
    @action(detail=True)
    def rows(self, request: Request, kind: str) -> HttpResponse:
        """The district's own rows as far as the person sees them, in the shape that can be imported again."""
        table, form = self._table(request, kind), self._form()
        filled = list(export_rows(actor_of(request), table))
        content = write_csv(table.headers, filled) if form == "csv" else write_workbook([(table, filled)])
        return self._download(content, kind, form)

    def _table(self, request: Request, kind: str) -> Table:
        table = find_table(kind)
        if table is None:
            raise Http404
        if not actor_of(request).has_perm(table.permission):
            raise PermissionDenied
        return table

    def _form(self) -> str:
        form = self.request.query_params.get("form", "csv")
        if form not in FORMS:
            raise serializers.ValidationError({"form": [f"Choose one of {', '.join(FORMS)}."]})
        return form

    def _download(self, content: bytes, name: str, form: str) -> HttpResponse:
        headers = {"Content-Disposition": f'attachment; filename="{name}.{form}"', "Cache-Control": "no-store"}
        return HttpResponse(content, content_type=FORMS[form], headers=headers)
