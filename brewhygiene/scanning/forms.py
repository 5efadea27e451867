"""Forms of scanning: any code, and what a new product number is."""

from typing import Any

from django import forms

from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.codes.fields import GtinField, ScannedField
from brewhygiene.scanning.products import Product, named, without_number


class ScanForm(forms.Form):
    """A code, by a scanner, pasted or typed."""

    text = ScannedField(
        label="Code",
        help_text="Scan a label or a package, or type what stands below the barcode.",
        error_messages={"required": "Scan a code, or type it."},
        max_length=600,
        strip=False,
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)
        self.fields["text"].widget.attrs["data-scan"] = "any"


class ProductForm(ActionForm):
    """Which product has a number that was not scanned here before."""

    gtin = GtinField(required=True, max_length=14, widget=forms.HiddenInput)
    product = forms.CharField(
        label="Product",
        widget=forms.Select,
        error_messages={"required": "Choose the product."},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # Called when it is shown; what was sent is looked up by itself.
        self.fields["product"].widget.choices = [("", "Choose"), *without_number()]

    def clean_product(self) -> Product:
        found = named(self.cleaned_data["product"])
        if found is None:
            raise forms.ValidationError("Choose the product.", code="invalid_choice")
        return found
