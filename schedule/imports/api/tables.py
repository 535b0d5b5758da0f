"""The API of imports: templates, a preview of an upload, commit, undo."""

from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import mixins, parsers, serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import (
    BodySerializer,
    ReadViewSet,
    RecordSerializer,
    RefusesUnknownFields,
    VisibleRelatedField,
    actor_of,
)
from accounts.api_fields import DateField, IdField
from schedule.calendar.models import WordRule
from schedule.calendar.published.groups import MOST_GROUPS, UNDECIDED, EventGroup
from schedule.imports.files.grids import LOWEST_USED_ROW, MOST_COLUMNS, check_size
from schedule.imports.files.problems import RowProblem, UnreadableFileError
from schedule.imports.models import ImportBatch
from schedule.imports.own.matching import LeftOut, OwnColumn
from schedule.imports.services import tables as services
from schedule.imports.services.answers import import_answer
from schedule.imports.services.calendar_files import KIND as CALENDAR
from schedule.imports.services.calendar_files import calendar_commit, calendar_preview, holidays_preview
from schedule.imports.services.work import import_columns, import_save, import_send
from schedule.imports.tables.every import TABLES
from travel.places.models import Building

PERMISSION = "import.run"
KINDS = [*((table.kind, table.title) for table in TABLES), (services.SEVERAL, "Several tables in one file")]
CHOICES = [*WordRule.Kind.choices, (UNDECIDED, "Not decided yet")]


class ProblemSerializer(DataclassSerializer[RowProblem]):
    """A fault of an upload by row (as the spreadsheet counts), column, value and remedy."""

    class Meta:
        dataclass = RowProblem


class ReadingAnswerSerializer(BodySerializer):
    """What a statement or a time is read as, in all rows of the table that have it."""

    table = serializers.CharField(max_length=40, help_text="The problem's table.")
    value = serializers.CharField(max_length=200, help_text="The problem's value.")
    reading = serializers.CharField(max_length=120, help_text="One of the problem's readings.")


class OwnColumnSerializer(DataclassSerializer[OwnColumn]):
    """A column of a table with headers of its own: its place from 0, some values, and the one of ours it may be."""

    class Meta:
        dataclass = OwnColumn


class LeftOutSerializer(DataclassSerializer[LeftOut]):
    """A row that seems to be none, and why."""

    class Meta:
        dataclass = LeftOut


class NamedColumnSerializer(BodySerializer):
    """The column at a place of the file, by the name of ours."""

    place = serializers.IntegerField(min_value=0, max_value=MOST_COLUMNS)
    column = serializers.CharField(max_length=40)


class ColumnsSerializer(BodySerializer):
    """Which column is which; places that aren't named are left out, and so are the rows of `left_out`."""

    columns = NamedColumnSerializer(many=True)
    left_out = serializers.ListField(
        child=serializers.IntegerField(min_value=1, max_value=LOWEST_USED_ROW), required=False, default=list
    )


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
    own_columns = serializers.SerializerMethodField()
    doubtful_rows = serializers.SerializerMethodField()
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
            "own_columns",
            "doubtful_rows",
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

    @extend_schema_field(OwnColumnSerializer(many=True))
    def get_own_columns(self, batch: ImportBatch) -> Any:
        """Of a table with headers of its own: its columns, each with the one of ours that it seems to be."""
        return batch.content.get("own", {}).get("columns", [])

    @extend_schema_field(LeftOutSerializer(many=True))
    def get_doubtful_rows(self, batch: ImportBatch) -> Any:
        """Of a table with headers of its own: rows that seem to be none, such as totals."""
        return batch.content.get("own", {}).get("left_out", [])

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
    """A CSV file or a workbook (XLSX, XLS, ODS) of one table, or a workbook or zip of several.

    One table may have headers of its own: the import is `matching` then, until `columns` says which is which.
    """

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

    @extend_schema(request=ColumnsSerializer)
    @action(detail=True, methods=["post"])
    def columns(self, request: Request, pk: int) -> Response:
        """Say which column of a table with headers of its own is which, and check it; also once more."""
        told = self._checked(ColumnsSerializer)
        columns = {one["place"]: one["column"] for one in told["columns"]}
        named = {"columns": columns, "left_out": told["left_out"]}
        return self._answer(import_columns(actor=actor_of(request), batch=self.get_object(), **named))

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
