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
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import Quantity
from brewhygiene.science.logger.dialect import Dialect, looks_missing
from brewhygiene.science.logger.mapping import MappedColumn, Mapping
from brewhygiene.science.logger.problems import TraceUnreadable
from brewhygiene.science.logger.reading import sniff_file
from brewhygiene.science.logger.times import ELAPSED_S, FORMS, possible_forms
from brewhygiene.science.logger.units import QUANTITIES
from brewhygiene.turnarounds.logger.intake import (
    Columns,
    ReadFile,
    evaluated,
    find_columns,
    read_file,
)
from brewhygiene.turnarounds.logger.placing import NONE, TIMED, Attempt, Phase
from brewhygiene.turnarounds.logger.statistics import StepEvidence
from brewhygiene.turnarounds.logger.words import LoggerClock, logged_title, minutes_words
from brewhygiene.turnarounds.models import LARGEST_TRACE_BYTES, Clean, LoggerMapping

LARGEST_MB = LARGEST_TRACE_BYTES // 1_000_000
NOT_LOGGED = ""
NOT_KEPT = "Nothing was kept; choose the file again."


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
            "required": "Choose the logger's file.",
            "missing": "Choose the logger's file.",
            "empty": "The file is empty. Export the clean from the logger again.",
            "invalid": "The file did not arrive. Choose it again.",
            "max_length": "The file's name is too long for the record. Give it a shorter one.",
        },
    )

    def clean_file(self) -> UploadedFile:
        file: UploadedFile = self.cleaned_data["file"]
        if (file.size or 0) > LARGEST_TRACE_BYTES:
            raise forms.ValidationError(
                f"The file has {(file.size or 0) / 1e6:.0f} MB; at most {LARGEST_MB} MB can be "
                "sent here. Export this clean alone."
            )
        return file

    columns_form: "ColumnsForm | None" = None

    def read(
        self, *, clean: Clean, brewery: Brewery, now: datetime, remembered: Iterable[LoggerMapping]
    ) -> ReadFile | None:
        """The file read to its end, from a valid form; ``None`` with errors beside the file.

        Its columns are as told with it, else as remembered or proposed. ``columns_form`` then
        shows them, so that a file which was refused can be sent again with others.
        """
        upload: UploadedFile = self.cleaned_data["file"]
        file = cast("BinaryIO", upload.file)
        try:
            dialect = sniff_file(file)
            columns = self._columns(dialect, remembered)
            if columns is None:
                return None
            return read_file(
                file,
                name=upload.name or "logger file",
                clean=clean,
                brewery=brewery,
                now=now,
                columns=columns,
                dialect=dialect,
            )
        except TraceUnreadable as unreadable:
            self.refuse(Refusal(f"{unreadable} {NOT_KEPT}", field="file"))
            return None

    def _columns(self, dialect: Dialect, remembered: Iterable[LoggerMapping]) -> Columns | None:
        if "time_first" not in self.data:
            # Shown even where nothing can be proposed, so that a person can say it.
            self.columns_form = ColumnsForm(dialect=dialect, mapping=bare_mapping(dialect))
            found = find_columns(dialect, remembered)
            self.columns_form = ColumnsForm(
                dialect=dialect, mapping=found.mapping, remembered_as=found.remembered_as
            )
            return found
        form = ColumnsForm(self.data, dialect=dialect, mapping=bare_mapping(dialect))
        self.columns_form = form
        if not form.is_valid():
            self.refuse(Refusal(f"Look at its columns below. {NOT_KEPT}", field="file"))
            return None
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

    time_first = forms.ChoiceField(label="Time, or date")
    time_second = forms.ChoiceField(
        label="Clock",
        required=False,
        help_text="Only where date and clock have a column each.",
    )
    time_form = forms.ChoiceField(
        label="How the time is written",
        error_messages={"invalid_choice": "Choose how the time is written."},
    )
    decimal = forms.ChoiceField(label="Decimal sign", choices=[(".", "Point"), (",", "Comma")])
    missing = forms.CharField(
        label="Words that stand for no reading",
        required=False,
        max_length=200,
        help_text="With a semicolon between them. An empty cell always is one.",
    )
    remember_as = forms.CharField(
        label="Remember this for this logger, as",
        required=False,
        max_length=60,
        help_text="A name for the logger: its next files are then read so by themselves.",
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
            except TraceUnreadable as unreadable:
                self.refuse_mapping(unreadable)
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
    ) -> dict[str, Any] | None:
        """The file read anew, from a valid form; ``None`` with an error beside its field."""
        try:
            return evaluated(
                file,
                clean=clean,
                columns=self.columns(),
                dialect=self.dialect,
                brewery=brewery,
                now=now,
            )
        except TraceUnreadable as unreadable:
            self.refuse_mapping(unreadable)
            return None

    def refuse_mapping(self, unreadable: TraceUnreadable) -> None:
        """Say beside the part of the mapping that it is about why the file cannot be read so."""
        field = {
            "time_columns": "time_first",
            "columns": f"column_{Quantity.TEMPERATURE_C}",
        }.get(unreadable.field, unreadable.field)
        if f"column_{field}" in self.fields:
            field = f"column_{field}"
        elif not field and unreadable.cells:
            field = "missing"
        self.refuse(Refusal(str(unreadable), field=field))


def _marks(text: str) -> list[str]:
    return [mark for each in text.split(";") if (mark := each.strip())]


class PlacingForm(ActionForm):
    """Which stretch of the file belongs to which step."""

    starts_at = MomentField(
        label="When the first row was logged",
        required=False,
        initial=None,
        help_text="By the brewery's clock. Change it where the logger's clock was wrong.",
    )
    rinse_end_ms_cm = NumberField(
        label="Conductivity at which a rinse is over",
        unit="mS/cm",
        required=False,
        low=0.001,
        high=50,
        help_text="The tap's of today with a little allowance, for rinses whose step sets none.",
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
                    "required": "Choose a stretch of the file.",
                    "invalid_choice": "Choose one of the stretches of this file.",
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
        minutes = minutes_words((until_s - from_s) / 60)
        return f"{clock.span_words(from_s, until_s)} ({minutes})"

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
        error_messages={"invalid_choice": "Choose among the steps shown."},
    )

    def __init__(self, *args: Any, steps: list[StepEvidence], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(step.attempt.record.pk, step.attempt.title) for step in steps]
        _offer(self, "records", choices)
        if not self.is_bound:
            self.initial["records"] = [step.attempt.record.pk for step in steps if step.writable]

    def chosen(self) -> set[int]:
        """Those ticked, as shown."""
        return {int(each) for each in self["records"].value() or [] if str(each).isdecimal()}
