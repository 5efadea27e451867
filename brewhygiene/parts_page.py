"""The page that shows every part of a page in all its states, for contributors.

Served where ``SHOW_PARTS`` says so: while ``DEBUG`` is on, and in the tests.
"""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from brewhygiene.quantities.fields import NumberField

STATUSES = (
    "in_use",
    "empty",
    "cleaning",
    "to_sample",
    "to_decide",
    "held",
    "released",
    "lapsed",
    "out_of_service",
)
VERDICTS = (
    "clear",
    "alert",
    "action",
    "unjudged",
    "within",
    "below",
    "above",
    "no_window",
    "yes",
    "no",
    "explain",
    "pending",
    "negative",
    "positive",
)


class PartsForm(forms.Form):
    """A field of each kind."""

    name = forms.CharField(label="Name", help_text="As it stands on the tank, e.g. FV 5.")
    reading = NumberField(label="Reading", unit="RLU", low=0, pad=True)
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea)
    kind = forms.ChoiceField(label="Kind", choices=[("fv", "Fermenter"), ("bt", "Bright tank")])
    outcome = forms.ChoiceField(
        label="Outcome",
        choices=[("release", "Release"), ("hold", "Hold"), ("wait", "Wait")],
        widget=forms.RadioSelect,
    )
    basis = forms.ChoiceField(
        label="Basis",
        choices=[("mass", "% by mass"), ("volume", "% by volume")],
        widget=forms.RadioSelect,
    )
    agreed = forms.BooleanField(label="The vessel is open to the air")
    photo = forms.FileField(label="Photograph", required=False)


def parts(request: HttpRequest) -> HttpResponse:
    """Every part, with a form as it is asked for and one that was refused."""
    refused = PartsForm({"reading": "minus one"}, auto_id="refused_%s")
    context: dict[str, Any] = {
        "room": "setup",
        "form": PartsForm(initial={"outcome": "release"}),
        "refused": refused,
        "statuses": STATUSES,
        "verdicts": VERDICTS,
        "readings": [12, 15, 11, 18, None, 22, 19, 25],
    }
    return render(request, "parts/index.html", context)
