"""ATP compared with plates."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from brewhygiene.people.requests import Request
from brewhygiene.trends.plates.figures import roc_figure, scatter_figure
from brewhygiene.trends.plates.forms import PlatesForm
from brewhygiene.trends.plates.pairs import pairs_since
from brewhygiene.trends.plates.study import study_of

SHOWN = 30


def plates(request: Request) -> HttpResponse:
    """What the meter said and what grew, at the same place after the same clean."""
    form = PlatesForm(request.GET.dict(), brewery=request.brewery)
    form.is_valid()
    found = pairs_since(form.since(timezone.now()))
    scales = found.scales
    asked = form.cleaned_data.get("scale")
    scale = next((s for s, _ in scales if s.key == asked), scales[0][0] if scales else None)
    study = None
    if scale is not None:
        study = study_of(scale, [p for p in found.pairs if p.scale == scale], form.costs)
    return render(
        request,
        "trends/plates/plates.html",
        {
            "room": "trends",
            "form": form,
            "costs": form.costs,
            "found": found,
            "scales": scales,
            "study": study,
            "roc": roc_figure(study, study.roc) if study and study.roc else None,
            "scatter": scatter_figure(study) if study else None,
            "missed": study.missed[:SHOWN] if study else [],
            "needless": study.needless[:SHOWN] if study else [],
        },
    )
