"""Forms of a clean's logger files: the file, its columns, its place in the clean, what to write."""

from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Any, BinaryIO, cast

from django import forms
from django.core.files.uploadedfile import UploadedFile

from brewhygiene.brewery.models import Brewery
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.days import MomentField
from brewhygiene.quantities.fields import NumberField
from brewhygiene.quantities.parsing import parse_row
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import Quantity
from brewhygiene.science.logger.dialect import Dialect, looks_missing
from brewhygiene.science.logger.mapping import MappedColumn, Mapping
from brewhygiene.science.logger.problems import LoggerFileUnreadable
from brewhygiene.science.logger.reading import sniff_file
from brewhygiene.science.logger.times import ELAPSED_S, FORMS, possible_forms
from brewhygiene.science.logger.units import QUANTITIES
from brewhygiene.turnarounds.logger.evidence import StepEvidence
from brewhygiene.turnarounds.logger.intake import (
    Columns,
    ReadFile,
    evaluated,
    find_columns,
    read_file,
)
from brewhygiene.turnarounds.logger.placing import NONE, TIMED, Attempt, Phase
from brewhygiene.turnarounds.logger.words import LoggerClock, logged_title
from brewhygiene.turnarounds.models import LARGEST_TRACE_BYTES, Clean, LoggerMapping
from brewhygiene.turnarounds.quantities import minutes_words

LARGEST_MB = LARGEST_TRACE_BYTES // 1_000_000
NOT_LOGGED = ""
NOT_KEPT = "Nothing was saved. Choose the file again."


class UploadForm(ActionForm):
    """The logger's file, as it came."""

    file = forms.FileField(
        label="Logger file",
        max_length=200,
        help_text=f"CSV or text as the logger exports it, at most {LARGEST_MB} MB.",
        widget=forms.FileInput(
            attrs={
                "accept": ".csv,.txt,.tsv,.dat,.log,text/*",
                "data-most-bytes": LARGEST_TRACE_BYTES,
            }
        ),
        error_messages={
            "required": "Choose a logger file.",
            "missing": "Choose a logger file.",
            "empty": "The file is empty. Export the clean again.",
            "invalid": "The file did not arrive. Choose the file again.",
            "max_length": "The file name is too long. Rename the file.",
        },
    )

    def clean_file(self) -> UploadedFile:
        file: UploadedFile = self.cleaned_data["file"]
        if (file.size or 0) > LARGEST_TRACE_BYTES:
            raise forms.ValidationError(
                f"The file has {(file.size or 0) / 1e6:.0f} MB. At most {LARGEST_MB} MB can be "
                "sent. Export this clean alone."
            )
        return file

    columns_form: "ColumnsForm | None" = None

    def __init__(
        self,
        *args: Any,
        clean: Clean,
        brewery: Brewery,
        remembered: Iterable[LoggerMapping],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        # ``clean`` would hide the form's own method of that name.
        self.of_clean, self.brewery, self.remembered = clean, brewery, remembered

    def read(self, *, now: datetime) -> ReadFile:
        """The file read to its end, from a valid form; refused, beside the file, where it cannot.

        Its columns are as sent with it, else as remembered or proposed. ``columns_form`` then
        shows them, so that a file which was refused can be sent again with others.
        """
        upload: UploadedFile = self.cleaned_data["file"]
        file = cast("BinaryIO", upload.file)
        try:
            dialect = sniff_file(file)
            return read_file(
                file,
                name=upload.name or "logger file",
                clean=self.of_clean,
                brewery=self.brewery,
                now=now,
                columns=self._columns(dialect),
                dialect=dialect,
            )
        except LoggerFileUnreadable as unreadable:
            raise Refusal(f"{unreadable} {NOT_KEPT}", field="file") from unreadable

    def _columns(self, dialect: Dialect) -> Columns:
        # Shown even where nothing can be proposed, so that a person can say it.
        bare, sent = bare_mapping(dialect), "time_first" in self.data
        form = ColumnsForm(self.data if sent else None, dialect=dialect, mapping=bare)
        self.columns_form = form
        if not sent:
            found = find_columns(dialect, self.remembered)
            self.columns_form = ColumnsForm(
                dialect=dialect, mapping=found.mapping, remembered_as=found.remembered_as
            )
            return found
        if not form.is_valid():
            raise Refusal(f"Correct the columns below. {NOT_KEPT}", field="file")
        return form.columns()


def bare_mapping(dialect: Dialect) -> Mapping:
    """What a form begins with where nothing is known of a file: its first column is the time."""
    return Mapping(
        time_columns=dialect.columns[:1],
        time_form=ELAPSED_S,
        columns=(),
        decimal=dialect.decimal,
    )


def _offer(form: forms.Form, name: str, choices: list[Any]) -> None:
    field = form.fields[name]
    assert isinstance(field, forms.ChoiceField)
    field.choices = choices


def time_form_choices(dialect: Dialect, columns: tuple[str, ...]) -> list[Any]:
    """Ways of writing a time: those that fit the first rows before all others."""

    def label(form: str) -> str:
        # The same with a comma between the date and the clock would read alike.
        return FORMS[form].replace(", ", ", comma, ", 1) if ", %" in form else FORMS[form]

    fitting: list[str] = []
    if columns and all(name in dialect.columns for name in columns):
        places = [dialect.index(name) for name in columns]
        cells = [
            " ".join(row[place] for place in places)
            for row in dialect.sample[:50]
            if not any(looks_missing(row[place]) for place in places)
        ]
        fitting = possible_forms(cells, dialect.decimal)
    others = [form for form in FORMS if form not in fitting]
    choices = [("Others", [(form, label(form)) for form in others])]
    if fitting:
        choices.insert(0, ("Fit the first rows", [(form, label(form)) for form in fitting]))
    return choices


class ColumnsForm(ActionForm):
    """What each column of a file is. Choices are the file's own columns."""

    time_first = forms.ChoiceField(label="Time or date")
    time_second = forms.ChoiceField(
        label="Time of day",
        required=False,
        help_text="Optional. Only where date and time of day have a column each.",
    )
    time_form = forms.ChoiceField(
        label="Time format",
        error_messages={"invalid_choice": "Choose a time format."},
    )
    decimal = forms.ChoiceField(label="Decimal sign", choices=[(".", "Point"), (",", "Comma")])
    missing = forms.CharField(
        label="Words for a missing reading",
        required=False,
        max_length=200,
        help_text="Optional. Separate words by a semicolon. A blank cell always counts as missing.",
    )
    remember_as = forms.CharField(
        label="Name of the logger",
        required=False,
        max_length=60,
        help_text="Optional. If named, the next files of this logger are read in the same way.",
    )

    def __init__(
        self, *args: Any, dialect: Dialect, mapping: Mapping, remembered_as: str = "", **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.dialect = dialect
        names = [(name, name) for name in dialect.columns]
        _offer(self, "time_first", names)
        _offer(self, "time_second", [("", "The same column"), *names])
        chosen = {each.quantity: each for each in mapping.columns}
        for quantity, known in QUANTITIES.items():
            column = chosen.get(quantity)
            self.fields[f"column_{quantity}"] = forms.ChoiceField(
                label=logged_title(quantity),
                required=False,
                choices=[(NOT_LOGGED, "Not logged"), *names],
                initial=column.column if column else NOT_LOGGED,
            )
            self.fields[f"unit_{quantity}"] = forms.ChoiceField(
                label=f"Unit of {known.label}",
                choices=[(unit, unit) for unit in known.units],
                initial=column.unit if column else next(iter(known.units)),
            )
        first, *second = mapping.time_columns
        if self.is_bound:
            sent = (self.data.get("time_first", ""), self.data.get("time_second", ""))
            columns = tuple(name for name in sent if name)
        else:
            columns = mapping.time_columns
        _offer(self, "time_form", time_form_choices(dialect, columns))
        self.initial = {
            **self.initial,
            "time_first": first,
            "time_second": second[0] if second else "",
            "time_form": mapping.time_form,
            "decimal": mapping.decimal,
            "missing": "; ".join(mark for mark in mapping.missing if mark),
            "remember_as": remembered_as,
        }

    def quantities(self) -> Iterator[tuple[Any, Any]]:
        """Column and unit of each quantity that a logger may write."""
        for quantity in QUANTITIES:
            yield self[f"column_{quantity}"], self[f"unit_{quantity}"]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not self.errors:
            try:
                self.mapping().check(self.dialect)
            except LoggerFileUnreadable as unreadable:
                self.refuse(self._refusal(unreadable))
        return data

    def mapping(self) -> Mapping:
        """What was chosen; from valid fields."""
        data = self.cleaned_data
        times = (data["time_first"], data["time_second"])
        return Mapping(
            time_columns=tuple(name for name in times if name),
            time_form=data["time_form"],
            columns=tuple(
                MappedColumn(
                    quantity,
                    data[f"column_{quantity}"],
                    data[f"unit_{quantity}"],
                )
                for quantity in QUANTITIES
                if data[f"column_{quantity}"]
            ),
            decimal=data["decimal"],
            missing=("", *_marks(data["missing"])),
        )

    def columns(self) -> Columns:
        """What a person says of a file; from a valid form."""
        name = self.cleaned_data["remember_as"].strip()
        return Columns(self.mapping(), remembered_as=name, remember=bool(name), checked=True)

    def evaluate(
        self, file: BinaryIO, *, clean: Clean, brewery: Brewery, now: datetime
    ) -> dict[str, Any]:
        """The file read anew, from a valid form; refused beside the field that does not fit."""
        try:
            return evaluated(
                file,
                clean=clean,
                columns=self.columns(),
                dialect=self.dialect,
                brewery=brewery,
                now=now,
            )
        except LoggerFileUnreadable as unreadable:
            raise self._refusal(unreadable) from unreadable

    def _refusal(self, unreadable: LoggerFileUnreadable) -> Refusal:
        """Why the file cannot be read, beside the part of the mapping that it is about."""
        field = {
            "time_columns": "time_first",
            "columns": f"column_{Quantity.TEMPERATURE_C}",
        }.get(unreadable.field, unreadable.field)
        if f"column_{field}" in self.fields:
            field = f"column_{field}"
        elif not field and unreadable.cells:
            field = "missing"
        return Refusal(str(unreadable), field=field)


def _marks(text: str) -> list[str]:
    return [mark for each in text.split(";") if (mark := each.strip())]


class PlacingForm(ActionForm):
    """Which stretch of the file belongs to which step."""

    starts_at = MomentField(
        label="Time of the first row",
        required=False,
        initial=None,
        help_text="In brewery time. Correct it if the logger's clock was wrong.",
    )
    rinse_end_ms_cm = NumberField(
        label="Conductivity at the end of a rinse",
        unit="mS/cm",
        required=False,
        low=0.001,
        high=50,
        help_text="Optional. Today's tap water plus a little, for rinses without a limit of their "
        "own.",
    )

    def __init__(
        self,
        *args: Any,
        attempts: list[Attempt],
        phases: list[Phase],
        clock: LoggerClock,
        kept: dict[int, str],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.attempts = attempts
        # Kept to the second, shown to the minute: unchanged, it stays as it is.
        self.kept_start = clock.starts_at
        for attempt in attempts:
            self.fields[f"step_{attempt.record.pk}"] = forms.ChoiceField(
                label=attempt.title,
                choices=_stretches(attempt, phases, clock),
                initial=kept.get(attempt.record.pk, NONE),
                error_messages={
                    "required": "Choose a part of the file.",
                    "invalid_choice": "Choose one of the parts of this file.",
                },
            )

    def steps(self) -> Iterator[Any]:
        for attempt in self.attempts:
            yield self[f"step_{attempt.record.pk}"]

    def starts(self) -> datetime | None:
        """The moment of the first row; ``None`` where it stays as it was."""
        moment: datetime | None = self.cleaned_data["starts_at"]
        if moment is None or self.kept_start is None:
            return moment
        shown = self.kept_start.replace(second=0, microsecond=0)
        return None if moment == shown else moment

    def choices(self) -> dict[int, str]:
        """The choice of each record. Once the clock is moved, only those chosen by hand."""
        moved = self.starts() is not None
        names = {attempt.record.pk: f"step_{attempt.record.pk}" for attempt in self.attempts}
        return {
            pk: self.cleaned_data[name]
            for pk, name in names.items()
            if not moved or self.cleaned_data[name] != self.fields[name].initial
        }


def _stretches(attempt: Attempt, phases: list[Phase], clock: LoggerClock) -> list[tuple[str, str]]:
    def words(from_s: float, until_s: float) -> str:
        return f"{clock.span_words(from_s, until_s)} ({minutes_words((until_s - from_s) / 60)})"

    timed = f"As timed: {words(*attempt.timed)}" if attempt.timed else "As timed"
    found = [
        (phase.choice, f"Phase {phase.number}, {phase.kind}: {words(phase.from_s, phase.until_s)}")
        for phase in phases
    ]
    return [(TIMED, timed), *found, (NONE, "Not in this file")]


class WriteForm(ActionForm):
    """The steps whose readings are written."""

    seen = forms.CharField(widget=forms.HiddenInput, required=False)
    records = forms.TypedMultipleChoiceField(
        label="Steps to write",
        coerce=int,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"invalid_choice": "Choose from the steps shown."},
    )

    def __init__(self, *args: Any, steps: list[StepEvidence], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(step.attempt.record.pk, step.attempt.title) for step in steps]
        _offer(self, "records", choices)
        if not self.is_bound:
            self.initial["records"] = [step.attempt.record.pk for step in steps if step.writable]

    def chosen(self) -> set[int]:
        """Those ticked, as shown."""
        return {row for row in map(parse_row, map(str, self["records"].value() or [])) if row}
