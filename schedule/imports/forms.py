"""Forms of the import pages."""

import io
import zipfile
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from accounts.fields import DateField
from accounts.models import Person
from schedule.imports.files.grids import check_size
from schedule.imports.files.problems import UnreadableFileError
from schedule.imports.own.matching import LeftOut, OwnColumn, OwnTable
from schedule.imports.own.names import offered
from schedule.imports.tables.columns import Table
from travel.places.models import Building


class _FilesInput(forms.ClearableFileInput):
    """An input that takes several files."""

    allow_multiple_selected = True


def _check(file: "UploadedFile[bytes]") -> None:
    """Refuse by size before anything of the file is read."""
    try:
        check_size(file.size or 0)
    except UnreadableFileError as error:
        raise forms.ValidationError(str(error), code="unreadable_file") from error


class SizedFileField(forms.FileField):
    """One file, not too large and not empty."""

    def __init__(self, **kwargs: Any) -> None:
        # An empty file gets our own sentence below.
        super().__init__(allow_empty_file=True, **kwargs)

    def clean(self, data: Any, initial: Any = None) -> Any:
        """Check the size first."""
        file = super().clean(data, initial)
        _check(file)
        return file


class SeveralFilesField(SizedFileField):
    """One or more files."""

    widget = _FilesInput

    def clean(self, data: Any, initial: Any = None) -> "list[UploadedFile[bytes]]":
        """Check each file, and all of them together."""
        given = data if isinstance(data, list | tuple) else [data]
        files = [super(SeveralFilesField, self).clean(one, initial) for one in given or [None]]
        try:
            check_size(sum(file.size or 0 for file in files))
        except UnreadableFileError as error:
            raise forms.ValidationError(str(error), code="unreadable_file") from error
        return files


class UploadForm(forms.Form):
    """One table."""

    file = SizedFileField(
        label="Filled template, or a table of your own",
        help_text="CSV, XLSX, XLS or ODS, at most 5 MB and 5,000 rows. If its headers aren't ours, you are asked "
        "which column is which.",
        widget=forms.FileInput(attrs={"accept": ".csv,.xlsx,.xls,.ods"}),
    )

    def read(self) -> tuple[str, bytes]:
        """Name and content of the file."""
        file = self.cleaned_data["file"]
        return file.name, file.read()


class SeveralUploadForm(forms.Form):
    """Several tables at once."""

    file = SeveralFilesField(
        label="Filled templates",
        help_text="One workbook with a sheet for each table, one zip of CSV files, or several CSV files; at most "
        "5 MB together. Name sheets and files like their templates.",
        widget=_FilesInput(attrs={"accept": ".csv,.xlsx,.zip"}),
    )

    def read(self) -> tuple[str, bytes]:
        """Name and content; several files are packed into one zip."""
        files: list[UploadedFile[bytes]] = self.cleaned_data["file"]
        if len(files) == 1:
            return files[0].name or "", files[0].read()
        stream = io.BytesIO()
        with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as packed:
            for place, file in enumerate(files):
                # A folder of its own for each: two files may have one name, and both must be read.
                packed.writestr(f"{place}/{file.name}", file.read())
        return "files.zip", stream.getvalue()


class OwnColumnsForm(forms.Form):
    """Which column of a district's own table is which of ours, and which of its doubtful rows are left out."""

    def __init__(self, *args: Any, own: OwnTable, table: Table, kept: frozenset[int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        named = [(one.name, f"{one.header} (needed)" if one.required else one.header) for one in offered(table)]
        self.own = own
        for one in own.columns:
            name = one.header or f"Column {one.place + 1}, without a header"
            self.fields[f"column-{one.place}"] = forms.ChoiceField(
                label=name, choices=[("", "Leave it out"), *named], required=False, initial=one.column
            )
        for row in self.doubtful:
            label = f"Leave out row {row.row}: {row.text}"
            self.fields[f"left-{row.row}"] = forms.BooleanField(
                label=label, required=False, initial=row.row not in kept, help_text=f"It seems to be {row.why}."
            )

    @property
    def doubtful(self) -> list[LeftOut]:
        """Rows below the headers that seem to be none."""
        return [row for row in self.own.left_out if row.row > self.own.header]

    @property
    def column_rows(self) -> "list[tuple[OwnColumn, forms.BoundField]]":
        """Each column with its field, as the page shows them."""
        return [(one, self[f"column-{one.place}"]) for one in self.own.columns]

    @property
    def row_fields(self) -> "list[forms.BoundField]":
        """The fields of doubtful rows."""
        return [self[f"left-{row.row}"] for row in self.doubtful]

    @property
    def columns(self) -> dict[int, str]:
        """The name of our column by place, once the form is valid."""
        told = {one.place: self.cleaned_data[f"column-{one.place}"] for one in self.own.columns}
        return {place: name for place, name in told.items() if name}

    @property
    def left_out(self) -> list[int]:
        """Numbers of the rows to leave out, once the form is valid."""
        return [row.row for row in self.doubtful if self.cleaned_data[f"left-{row.row}"]]


class _RangeForm(forms.Form):
    """Between which dates, and for whom."""

    first = DateField(label="From", widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}))
    last = DateField(label="To", widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}))
    building = forms.ModelChoiceField(
        Building.objects.none(),
        label="For",
        required=False,
        empty_label="The whole district",
        help_text="A building, if these days apply to that building only.",
    )

    def __init__(self, *args: Any, viewer: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        building = self.fields["building"]
        if isinstance(building, forms.ModelChoiceField):
            building.queryset = Building.objects.visible_to(viewer)

    def clean(self) -> dict[str, Any]:
        """The dates in their order."""
        values = super().clean() or {}
        first, last = values.get("first"), values.get("last")
        if first and last and last < first:
            self.add_error("last", "The last date is before the first.")
        return values


class CalendarUploadForm(_RangeForm):
    """The calendar file of a school website."""

    file = SizedFileField(
        label="Calendar file",
        help_text="The iCalendar file (.ics) behind “subscribe” or “export” on the school's website; at most 5 MB.",
        widget=forms.FileInput(attrs={"accept": ".ics,text/calendar"}),
    )
    field_order = ["file", "first", "last", "building"]


class HolidaysForm(_RangeForm):
    """Public holidays of a state."""

    state = forms.CharField(max_length=2, help_text="Two letters, such as NY.")
    field_order = ["state", "first", "last", "building"]
