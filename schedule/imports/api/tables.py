"""The API of imports: templates, a preview of an upload, commit, undo."""

from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.db.models import QuerySet
from django.http import Http404, HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema, extend_schema_field
from rest_framework import mixins, parsers, permissions, serializers, status, viewsets
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import (
    BodySerializer,
    ReadViewSet,
    RecordSerializer,
    RefusesUnknownFields,
    RolePermission,
    VisibleRelatedField,
    actor_of,
)
from accounts.api_fields import DateField, IdField
from accounts.files import write_csv
from schedule.calendar.models import WordRule
from schedule.calendar.published.groups import MOST_GROUPS, UNDECIDED, EventGroup
from schedule.imports.files.export import export_rows
from schedule.imports.files.grids import check_size
from schedule.imports.files.problems import RowProblem, UnreadableFileError
from schedule.imports.files.writing import write_template, write_workbook
from schedule.imports.models import ImportBatch
from schedule.imports.services import tables as services
from schedule.imports.services.answers import import_answer
from schedule.imports.services.calendar_files import KIND as CALENDAR
from schedule.imports.services.calendar_files import calendar_commit, calendar_preview, holidays_preview
from schedule.imports.services.work import import_save, import_send
from schedule.imports.tables.columns import Column, Table
from schedule.imports.tables.every import TABLES, find_table
from travel.places.models import Building

PERMISSION = "import.run"
KINDS = [*((table.kind, table.title) for table in TABLES), (services.SEVERAL, "Several tables in one file")]
CHOICES = [*WordRule.Kind.choices, (UNDECIDED, "Not decided yet")]
FORMS = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


class ProblemSerializer(DataclassSerializer[RowProblem]):
    """A fault of an upload by row (as the spreadsheet counts), column, value and remedy."""

    class Meta:
        dataclass = RowProblem


class ReadingAnswerSerializer(BodySerializer):
    """What a statement is read as, in all rows of the table that have it."""

    table = serializers.CharField(max_length=40, help_text="The problem's table.")
    value = serializers.CharField(max_length=200, help_text="The problem's value.")
    reading = serializers.CharField(max_length=120, help_text="One of the problem's readings.")


class TallySerializer(serializers.Serializer[Any]):
    """What the rows of a table are, or would be, to the district."""

    new = serializers.IntegerField()
    changed = serializers.IntegerField()
    same = serializers.IntegerField()
    removed = serializers.IntegerField()


class EventSerializer(DataclassSerializer[EventGroup]):
    """Events of one title in a published calendar, and the kind of day that they will be saved as."""

    dates = serializers.ListField(child=serializers.ListField(child=DateField()))

    class Meta:
        dataclass = EventGroup


class GoneSerializer(serializers.Serializer[Any]):
    """A saved day that a published calendar no longer lists. `entry` is its id, dates are both included."""

    entry = serializers.IntegerField()
    first = DateField()
    last = DateField()
    kind = serializers.CharField()
    title = serializers.CharField()


class ImportSerializer(RecordSerializer[ImportBatch]):
    """An upload: its problems while it is a preview, what it changes by table, and a calendar's events."""

    rows_done = serializers.SerializerMethodField()
    is_cut_off = serializers.BooleanField(
        read_only=True,
        help_text="The check or the saving has ended without a result: send the file, or commit, again.",
    )
    message = serializers.SerializerMethodField()
    problems = serializers.SerializerMethodField()
    events = serializers.SerializerMethodField()
    gone = serializers.SerializerMethodField()
    left_out = serializers.SerializerMethodField()
    label_notes = serializers.SerializerMethodField()
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
            "rows_done",
            "is_cut_off",
            "message",
            "problem_count",
            "problems",
            "tallies",
            "events",
            "gone",
            "left_out",
            "label_notes",
        )
        read_only_fields = fields

    def get_rows_done(self, batch: ImportBatch) -> int:
        """How many rows are checked, while it is being checked or saved."""
        return int(batch.job.progress.get("done", 0)) if batch.is_at_work and batch.job is not None else 0

    def get_message(self, batch: ImportBatch) -> str:
        """Why a commit in the background saved nothing."""
        return str(batch.content.get("message", ""))

    @extend_schema_field(ProblemSerializer(many=True))
    def get_problems(self, batch: ImportBatch) -> Any:
        """Every problem and warning of the preview."""
        return batch.content.get("problems", [])

    @extend_schema_field(EventSerializer(many=True))
    def get_events(self, batch: ImportBatch) -> Any:
        """Of a calendar in preview; the commit takes one kind for each, in this order."""
        return batch.content.get("groups", [])

    @extend_schema_field(GoneSerializer(many=True))
    def get_gone(self, batch: ImportBatch) -> Any:
        """Of a calendar that is read from an address: saved days that it says no more; the commit may name some."""
        return batch.content.get("gone", [])

    def get_left_out(self, batch: ImportBatch) -> list[str]:
        """Of a calendar: what of its file couldn't be read, in preview and once it is saved."""
        return list(batch.content.get("notes", []))

    def get_label_notes(self, batch: ImportBatch) -> list[str]:
        """Of a calendar: where its cycle days differ from the schools' rotations."""
        return list(batch.content.get("labels", []))

    @extend_schema_field(serializers.DictField(child=TallySerializer()))
    def get_tallies(self, batch: ImportBatch) -> Any:
        """Counts by table."""
        return batch.content.get("tallies", {})


class FileSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """A file, refused by size before any of it is read."""

    file = serializers.FileField()

    def validate_file(self, file: "UploadedFile[bytes]") -> "UploadedFile[bytes]":
        """Not too large and not empty."""
        try:
            check_size(file.size or 0)
        except UnreadableFileError as error:
            raise serializers.ValidationError(str(error)) from error
        return file


class UploadSerializer(FileSerializer):
    """A CSV or XLSX file of one table, or a workbook or zip of several."""

    kind = serializers.ChoiceField(choices=KINDS)


class DatesSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """Which dates count, and for which building; for the whole district where none is given."""

    first = DateField()
    last = DateField()
    building = VisibleRelatedField(queryset=Building.objects.all(), required=False, allow_null=True, default=None)


class CalendarSerializer(DatesSerializer, FileSerializer):
    """The iCalendar file of a school website."""


class HolidaysSerializer(DatesSerializer):
    """A state by its two letters; empty for the whole country."""

    state = serializers.CharField(max_length=2, allow_blank=True)


class EndSerializer(BodySerializer):
    """The last day of a break that the calendar has on one day only; `event` is its place among the `events`."""

    event = serializers.IntegerField(min_value=0, max_value=MOST_GROUPS)
    until = DateField()


class CommitSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """For a calendar: what each of its `events` stands for, in order, and which `gone` days go.

    An event with a `doubt` is undecided until somebody says what it is; what stays undecided is left out and asked
    about again.
    """

    kinds = serializers.ListField(child=serializers.ChoiceField(choices=CHOICES), required=False)
    remove = serializers.ListField(child=IdField(), required=False)
    ends = EndSerializer(many=True, required=False)


class ImportViewSet(mixins.DestroyModelMixin, ReadViewSet[ImportBatch]):
    """Uploads: previewed, then committed whole or discarded; the latest one can be undone."""

    serializer_class = ImportSerializer
    read_permission = write_permission = PERMISSION
    parser_classes = (parsers.MultiPartParser, parsers.JSONParser)
    http_method_names = ["get", "post", "delete", "head", "options"]

    def get_queryset(self) -> QuerySet[ImportBatch]:
        """Without what saving has to write, which may be thousands of rows and isn't shown."""
        return super().get_queryset().select_related("job").defer("ready")

    @extend_schema(request={"multipart/form-data": UploadSerializer}, responses={201: ImportSerializer})
    def create(self, request: Request) -> Response:
        """Preview a file. Nothing is imported yet.

        Many rows are checked in the background: ask until `state` is no longer `checking`.
        """
        values = self._checked(UploadSerializer)
        file = values["file"]
        batch = import_send(actor=actor_of(request), kind=values["kind"], filename=file.name, content=file.read())
        return self._answer(batch, status.HTTP_201_CREATED)

    @extend_schema(request={"multipart/form-data": CalendarSerializer}, responses={201: ImportSerializer})
    @action(detail=False, methods=["post"])
    def calendar(self, request: Request) -> Response:
        """Preview a published calendar."""
        values = self._checked(CalendarSerializer)
        file = values.pop("file")
        batch = calendar_preview(actor=actor_of(request), filename=file.name, content=file.read(), **values)
        return self._answer(batch, status.HTTP_201_CREATED)

    @extend_schema(request=HolidaysSerializer, responses={201: ImportSerializer})
    @action(detail=False, methods=["post"])
    def holidays(self, request: Request) -> Response:
        """Preview a state's public holidays."""
        batch = holidays_preview(actor=actor_of(request), **self._checked(HolidaysSerializer))
        return self._answer(batch, status.HTTP_201_CREATED)

    @extend_schema(request=CommitSerializer)
    @action(detail=True, methods=["post"])
    def commit(self, request: Request, pk: int) -> Response:
        """Do what the preview showed, all or nothing.

        Many rows that must be checked again first are saved in the background: ask until `state` is no longer
        `saving`; if it is `preview` then, `message` says why nothing was saved.
        """
        batch, values = self.get_object(), self._checked(CommitSerializer)
        if batch.kind == CALENDAR:
            ends = {one["event"]: one["until"] for one in values.get("ends", ())}
            chosen = {"kinds": values.get("kinds", ()), "remove": values.get("remove", ()), "ends": ends}
            done = calendar_commit(actor=actor_of(request), batch=batch, **chosen)
        else:
            done = import_save(actor=actor_of(request), batch=batch)
        return self._answer(done)

    @extend_schema(request=ReadingAnswerSerializer)
    @action(detail=True, methods=["post"])
    def answer(self, request: Request, pk: int) -> Response:
        """Read a statement that can mean two things as one of its `readings`; the rows are checked again."""
        told = self._checked(ReadingAnswerSerializer)
        return self._answer(import_answer(actor=actor_of(request), batch=self.get_object(), **told))

    @extend_schema(request=None)
    @action(detail=True, methods=["post"])
    def undo(self, request: Request, pk: int) -> Response:
        """Take a committed import back whole."""
        return self._answer(services.import_undo(actor=actor_of(request), batch=self.get_object()))

    def perform_destroy(self, instance: ImportBatch) -> None:
        """Discard a preview."""
        services.import_cancel(actor=actor_of(self.request), batch=instance)

    def _checked(self, body: type[serializers.Serializer[Any]]) -> dict[str, Any]:
        serializer = body(data=self.request.data, context=self.get_serializer_context())
        serializer.is_valid(raise_exception=True)
        return dict(serializer.validated_data)

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
        """Every table with its columns."""
        return Response(ImportTableSerializer(TABLES, many=True).data)

    @_file_of_table
    @action(detail=True)
    def template(self, request: Request, kind: str) -> HttpResponse:
        """A blank template as CSV or XLSX."""
        table, form = self._table(kind), self._form()
        return self._download(write_template(table, form), f"{kind}-template", form)

    @_file_of_table
    @action(detail=True)
    def rows(self, request: Request, kind: str) -> HttpResponse:
        """The district's own rows as far as the person sees them, in the shape that can be imported again."""
        table, form = self._table(kind), self._form()
        filled = list(export_rows(actor_of(request), table))
        content = write_csv(table.headers, filled) if form == "csv" else write_workbook([(table, filled)])
        return self._download(content, kind, form)

    def _table(self, kind: str) -> Table:
        table = find_table(kind)
        if table is None:
            raise Http404
        return table

    def _form(self) -> str:
        form = self.request.query_params.get("form", "csv")
        if form not in FORMS:
            raise serializers.ValidationError({"form": [f"Choose one of {', '.join(FORMS)}."]})
        return form

    def _download(self, content: bytes, name: str, form: str) -> HttpResponse:
        headers = {"Content-Disposition": f'attachment; filename="{name}.{form}"', "Cache-Control": "no-store"}
        return HttpResponse(content, content_type=FORMS[form], headers=headers)
