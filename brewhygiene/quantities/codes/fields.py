"""Form fields that take what is printed on a package, typed or scanned."""

from typing import Any

from django import forms
from django.utils import timezone

from brewhygiene.quantities.codes.element_strings import (
    LONGEST_CODE,
    Code,
    Unreadable,
    looks_like_code,
    read_code,
)


def code_in(text: str) -> Code | None:
    """The code that a field was filled with, or ``None`` where somebody typed a lot.

    Raises a validation error for a code that cannot be read, or that may not mean what it says.
    """
    if not looks_like_code(text):
        return None
    year = timezone.localdate().year
    try:
        code = read_code(text, year=year)
    except Unreadable as error:
        raise forms.ValidationError(error.words, code="unreadable") from error
    if doubt := code.doubt(year=year):
        raise forms.ValidationError(doubt, code="doubtful_lot")
    return code


class ScannedField(forms.CharField):
    """A text that is short in itself, and long while a whole code stands in its box."""

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        attrs: dict[str, Any] = super().widget_attrs(widget)
        if widget.is_hidden:
            return attrs
        return {**attrs, "maxlength": str(LONGEST_CODE), "autocomplete": "off"}


class LotField(ScannedField):
    """A lot, as typed, or out of a code that was scanned or pasted.

    ``scan`` says which product the page expects: *agent*, *atp_test* or *other*.
    """

    def __init__(self, *, scan: str = "other", **kwargs: Any) -> None:
        self.scan = scan
        super().__init__(**kwargs)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {**super().widget_attrs(widget), "data-scan": "lot", "data-scan-for": self.scan}

    def to_python(self, value: Any) -> str:
        text = str(super().to_python(value) or "")
        code = code_in(text)
        if code is None:
            return text
        if not code.lot:
            raise forms.ValidationError(
                "This barcode has no lot. Enter the lot as printed on the package.", code="no_lot"
            )
        return code.lot


class GtinField(ScannedField):
    """A product number, typed, or out of a code; kept in its 14 digits."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("label", "Product number (GTIN)")
        kwargs.setdefault("required", False)
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> str:
        text = str(super().to_python(value) or "")
        if not text:
            return ""
        try:
            code = read_code(text, year=timezone.localdate().year)
        except Unreadable as error:
            raise forms.ValidationError(error.words, code="unreadable") from error
        if not code.gtin:
            raise forms.ValidationError("This barcode has no product number.", code="no_gtin")
        return code.gtin


class FilledByCode(forms.Form):
    """A form with a lot and the last day of its use, which one code fills both.

    A day that was entered stays. What was read is shown where the form comes back.
    """

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.is_bound:
            return
        lot, expires_on = self.add_prefix("lot"), self.add_prefix("expires_on")
        try:
            code = code_in((self.data.get(lot) or "").strip())
        except forms.ValidationError:
            return  # the field says why, beside what was scanned
        if code is None or not code.lot:
            return
        filled = self.data.copy()  # type: ignore[attr-defined]  # a QueryDict or a dict
        filled[lot] = code.lot
        if code.expires_on is not None and not filled.get(expires_on):
            filled[expires_on] = code.expires_on.isoformat()
        self.data = filled
