"""The form of work on a vessel's part."""

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache

from brewhygiene.cellar.models import PartWorkKind, SamplingPoint, Vessel
from brewhygiene.cellar.parts.actions import record_part_work
from brewhygiene.people.forms import ActionForm
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, actor_of, next_page, sent
from brewhygiene.quantities.days import MomentField


class PointField(forms.ModelChoiceField):
    """A point of the vessel at hand, by its own name."""

    def label_from_instance(self, obj: SamplingPoint) -> str:
        return obj.name


class PartWorkForm(ActionForm):
    """What was done, to which point's part, and when."""

    kind = forms.ChoiceField(
        label="What was done", choices=PartWorkKind.choices, widget=forms.RadioSelect
    )
    point = PointField(
        label="Where",
        queryset=SamplingPoint.objects.none(),
        required=False,
        empty_label="the whole vessel",
        help_text="The point whose readings it concerns.",
    )
    done_at = MomentField(label="When")
    note = forms.CharField(
        label="Note", required=False, max_length=200, help_text="As the part's name or size."
    )

    def __init__(self, *args: object, vessel: Vessel, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["point"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = vessel.points.filter(active=True)


@never_cache
@permission_needed("work_cellar")
def part_work(request: Request, pk: int) -> HttpResponse:
    """Record work on a part of a vessel."""
    vessel = get_object_or_404(Vessel, pk=pk)
    form = PartWorkForm(
        sent(request), vessel=vessel, initial={"point": request.GET.get("point", "")}
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        done = form.attempt(
            lambda: record_part_work(
                by=actor_of(request),
                vessel=vessel,
                kind=given["kind"],
                point=given["point"],
                done_at=given["done_at"],
                note=given["note"],
            )
        )
        if done is not None:
            messages.success(request, f"{done} is on record. Its charts begin anew.")
            return redirect(next_page(request) or "board:vessel", *_where(request, pk))
    context = {"room": "board", "vessel": vessel, "form": form, "next": next_page(request)}
    return render(
        request, "cellar/parts/part_work.html", context, status=422 if form.is_bound else 200
    )


def _where(request: Request, pk: int) -> tuple[int, ...]:
    """The vessel's page needs its key; the page that was asked for has it in its address."""
    return () if next_page(request) else (pk,)
