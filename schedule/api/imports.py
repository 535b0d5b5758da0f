"""The API of imports: templates, a preview of an upload, commit, undo."""

from typing import Any

from django.http import Http404, HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema, extend_schema_field
from rest_framework import mixins, parsers, permissions, serializers, status, viewsets
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import ReadViewSet, RecordSerializer, RefusesUnknownFields, RolePermission, actor_of
from schedule.imports.columns import Column, Table
from schedule.imports.problems import Problem
from schedule.imports.tables import TABLES, find_table
from schedule.imports.writing import write_template
from schedule.models import ImportBatch
from schedule.services import imports as services

PERMISSION = "import.run"
KINDS = [*((table.kind, table.title) for table in TABLES), (services.SEVERAL, "Several tables in one file")]
FORMS = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
FORM_NAMES = tuple(FORMS)


class ProblemSerializer(DataclassSerializer[Problem]):
    """A fault of an upload by row (as the spreadsheet counts), column, value and remedy."""

    class Meta:
        dataclass = Problem


class TallySerializer(serializers.Serializer[Any]):
    """What the rows of a table are, or would be, to the district."""

    new = serializers.IntegerField()
    changed = serializers.IntegerField()
    same = serializers.IntegerField()
    removed = serializers.IntegerField()


class ImportSerializer(RecordSerializer[ImportBatch]):
    """An upload: its problems while it is a preview, and what it changes by table."""

    problems = serializers.SerializerMethodField()
    tallies = serializers.SerializerMethodField()

    class Meta:
        model = ImportBatch
        fields = (
            "id",
            "person",
            "kind",
            "state",
            "created_at",
            "committed_at",
            "undone_at",
            "row_count",
            "problem_count",
            "problems",
            "tallies",
        )
        read_only_fields = fields

    @extend_schema_field(ProblemSerializer(many=True))
    def get_problems(self, batch: ImportBatch) -> Any:
        """Every problem and warning of the preview."""
        return batch.content.get("problems", [])

    @extend_schema_field(serializers.DictField(child=TallySerializer()))
    def get_tallies(self, batch: ImportBatch) -> Any:
        """Counts by table."""
        return batch.content.get("tallies", {})


class UploadSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """A CSV or XLSX file of one table, or a workbook or zip of several."""

    kind = serializers.ChoiceField(choices=KINDS)
    file = serializers.FileField()


class ImportViewSet(mixins.DestroyModelMixin, ReadViewSet[ImportBatch]):
    """Uploads: previewed, then committed whole or thrown away; the latest one can be undone."""

    model = ImportBatch
    serializer_class = ImportSerializer
    read_permission = write_permission = PERMISSION
    parser_classes = (parsers.MultiPartParser, parsers.JSONParser)
    http_method_names = ["get", "post", "delete", "head", "options"]

    @extend_schema(request={"multipart/form-data": UploadSerializer}, responses={201: ImportSerializer})
    def create(self, request: Request) -> Response:
        """Preview a file. Nothing is imported yet."""
        upload = UploadSerializer(data=request.data)
        upload.is_valid(raise_exception=True)
        file = upload.validated_data["file"]
        batch = services.import_preview(
            actor=actor_of(request), kind=upload.validated_data["kind"], filename=file.name, content=file.read()
        )
        return self._answer(batch, status.HTTP_201_CREATED)

    @extend_schema(request=None)
    @action(detail=True, methods=["post"])
    def commit(self, request: Request, pk: int) -> Response:
        """Do what the preview showed, all or nothing."""
        return self._answer(services.import_commit(actor=actor_of(request), batch=self.get_object()))

    @extend_schema(request=None)
    @action(detail=True, methods=["post"])
    def undo(self, request: Request, pk: int) -> Response:
        """Take a committed import back whole."""
        return self._answer(services.import_undo(actor=actor_of(request), batch=self.get_object()))

    def perform_destroy(self, instance: ImportBatch) -> None:
        """Throw a preview away."""
        services.import_cancel(actor=actor_of(self.request), batch=instance)

    def _answer(self, batch: ImportBatch, code: int = status.HTTP_200_OK) -> Response:
        return Response(ImportSerializer(batch, context=self.get_serializer_context()).data, status=code)


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


class ImportTableViewSet(viewsets.ViewSet):
    """The tables that can be imported, and their blank templates."""

    permission_classes = (permissions.IsAuthenticated, RolePermission)
    read_permission = write_permission = PERMISSION
    lookup_field = "kind"
    lookup_value_converter = "slug"

    @extend_schema(responses=ImportTableSerializer(many=True))
    def list(self, request: Request) -> Response:
        """Every table with its columns."""
        return Response(ImportTableSerializer(TABLES, many=True).data)

    @extend_schema(
        parameters=[OpenApiParameter("form", enum=FORM_NAMES, default="csv")],
        responses={(200, media_type): OpenApiTypes.BINARY for media_type in FORMS.values()},
    )
    @action(detail=True)
    def template(self, request: Request, kind: str) -> HttpResponse:
        """A blank template as CSV or XLSX."""
        form = request.query_params.get("form", "csv")
        table = find_table(kind)
        if table is None or form not in FORMS:
            raise Http404
        return HttpResponse(
            write_template(table, form),
            content_type=FORMS[form],
            headers={"Content-Disposition": f'attachment; filename="{kind}.{form}"'},
        )
