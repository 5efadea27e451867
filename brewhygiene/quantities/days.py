"""Form fields for days and times: plausible years, and an hour that the clocks skip or repeat."""

from datetime import UTC, date, datetime, tzinfo
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

from brewhygiene.quantities.style import shown_moment

# Before the first and after the last of these years nothing in a brewery's records can lie.
FIRST_YEAR, LAST_YEAR = 2000, 2099
DAY_WORDS = "Enter a date, e.g. 2026-03-14."
MOMENT_WORDS = "Enter a date and a time, e.g. 2026-03-14 06:30."
YEAR_WORDS = f"Enter a date from {FIRST_YEAR} to {LAST_YEAR}."
# Which of the two an hour that came twice was.
TURNS = (("1", "the first, before the clocks went back"), ("2", "the second, after it"))


def check_year(day: date) -> None:
    """Raises a validation error for a year that no record can be of."""
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise forms.ValidationError(YEAR_WORDS, code="year")


def read_stamp(text: str) -> datetime | None:
    """A moment as a tablet's script writes it; ``None`` without an offset or a plausible year."""
    try:
        moment = parse_datetime(text)
    except ValueError:
        return None
    if moment is None or timezone.is_naive(moment):
        return None
    return moment if FIRST_YEAR <= moment.year <= LAST_YEAR else None


class DayField(forms.DateField):
    """A day, on the browser's own calendar."""

    def __init__(self, **kwargs: Any) -> None:
        bounds = {"type": "date", "min": f"{FIRST_YEAR}-01-01", "max": f"{LAST_YEAR}-12-31"}
        kwargs.setdefault("widget", forms.DateInput(bounds, format="%Y-%m-%d"))
        super().__init__(**kwargs)
        self.error_messages["invalid"] = DAY_WORDS

    def to_python(self, value: Any) -> date | None:
        day = super().to_python(value)
        if day is not None:
            check_year(day)
        return day


def is_skipped(moment: datetime, zone: tzinfo) -> bool:
    """Whether the clocks of a zone went forward over a time on the wall."""
    there = moment.replace(tzinfo=zone)
    back = there.astimezone(timezone.get_fixed_timezone(0)).astimezone(zone)
    return back.replace(tzinfo=None, fold=0) != moment.replace(fold=0)


def is_repeated(moment: datetime, zone: tzinfo) -> bool:
    """Whether a time on the wall came twice, since the clocks went back over it."""
    first, second = (moment.replace(tzinfo=zone, fold=fold).utcoffset() for fold in (0, 1))
    return first != second and not is_skipped(moment, zone)


class MomentInput(forms.DateTimeInput):
    """A date and a time; and which of the two it was, where the clocks showed it twice."""

    input_type = "datetime-local"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        bounds = {"min": f"{FIRST_YEAR}-01-01T00:00", "max": f"{LAST_YEAR}-12-31T23:59"}
        super().__init__(attrs={"step": "60", **bounds, **(attrs or {})}, format="%Y-%m-%dT%H:%M")

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        text, turn = data.get(name), data.get(f"{name}_turn")
        return f"{text} {turn}" if text and turn in dict(TURNS) else text

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        text, turn = parted(value) if isinstance(value, str) else (value, "")
        box = super().render(name, text, attrs, renderer)
        zone = timezone.get_current_timezone()
        if isinstance(value, datetime):
            there = timezone.localtime(value) if timezone.is_aware(value) else value
            moment, turn = there.replace(tzinfo=None), "2" if there.fold else "1"
        else:
            found = written_moment(str(text or ""))
            if found is None:
                return box
            moment = found
        return box if not is_repeated(moment, zone) else box + _both_turns(name, turn)


def _both_turns(name: str, chosen: str) -> SafeString:
    options = format_html_join(
        "",
        '<label class="choice"><input type="radio" name="{}_turn" value="{}"{}>'
        "<span>{}</span></label>",
        (
            (name, code, mark_safe(" checked") if code == chosen else "", words)
            for code, words in TURNS
        ),
    )
    return format_html(
        '<span class="choices" role="radiogroup" aria-label="Which of the two">{}</span>', options
    )


def parted(text: str) -> tuple[str, str]:
    """What was typed, and the turn that was chosen beside it."""
    moment, _, turn = text.rpartition(" ")
    return (moment, turn) if turn in dict(TURNS) and moment else (text, "")


def written_moment(text: str) -> datetime | None:
    """The time on the wall that a text says, or ``None``."""
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        return None
    return moment.replace(tzinfo=None)


class MomentField(forms.DateTimeField):
    """A date and time on the brewery's own clock; the time now where nothing else is given.

    An hour that the clocks skipped is refused. One that they showed twice is asked about: the
    widget offers both turns, and the field takes neither by itself.
    """

    widget = MomentInput

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("initial", timezone.now)
        super().__init__(**kwargs)
        self.error_messages["invalid"] = MOMENT_WORDS

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, datetime) and timezone.is_aware(value):
            return timezone.localtime(value)
        return value

    def to_python(self, value: Any) -> datetime | None:
        if value in self.empty_values:
            return None
        text, turn = parted(str(value))
        moment = written_moment(text)
        if moment is None:
            raise forms.ValidationError(self.error_messages["invalid"], code="invalid")
        check_year(moment)
        zone = timezone.get_current_timezone()
        if is_skipped(moment, zone):
            raise forms.ValidationError(
                f"The clocks went forward over {shown_moment(moment, 'H:i')} on "
                f"{shown_moment(moment, 'j F Y')}: "
                "that time did not exist. Enter the time before or after.",
                code="skipped",
            )
        if is_repeated(moment, zone) and not turn:
            raise forms.ValidationError(
                f"The clocks showed {shown_moment(moment, 'H:i')} twice on "
                f"{shown_moment(moment, 'j F Y')}. "
                "Choose which of the two.",
                code="repeated",
            )
        if is_repeated(moment, zone):
            # In UTC: Python holds no time of such an hour equal to the same time elsewhere.
            return moment.replace(tzinfo=zone, fold=1 if turn == "2" else 0).astimezone(UTC)
        return moment.replace(tzinfo=zone)
