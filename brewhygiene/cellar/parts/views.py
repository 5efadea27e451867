"""The form of work on a vessel's part."""

from django import forms
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.cache import never_cache

from brewhygiene.cellar.models import PartWorkKind, SamplingPoint, Vessel
from brewhygiene.cellar.parts.actions import record_part_work
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.forms import ActionForm
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, next_page, sent
from brewhygiene.quantities.days import MomentField


class PointField(forms.ModelChoiceField):
    """A point of the vessel at hand, by its own name."""

    def label_from_instance(self, obj: SamplingPoint) -> str:
        return obj.name


class PartWorkForm(ActionForm):
    """What was done, to which point's part, and when."""

    kind = forms.ChoiceField(
        label="What was done",
        choices=PartWorkKind.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose what was done."},
    )
    point = PointField(
        label="Sampling point",
        queryset=SamplingPoint.objects.none(),
        required=False,
        empty_label="whole vessel",
        help_text="Optional. If blank, the work concerns the whole vessel.",
    )
    done_at = MomentField(label="Done at")
    note = forms.CharField(
        label="Note",
        required=False,
        max_length=200,
        help_text="Optional. E.g. the name or size of the part.",
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
    onward = next_page(request)
    if submitted(
        request,
        form,
        lambda by: record_part_work(by=by, vessel=vessel, **form.given),
        said=lambda work: f"Recorded: {work}. Its control charts start a new phase.",
    ):
        return redirect(onward) if onward else redirect("board:vessel", pk)
    return page(
        request, "cellar/parts/part_work.html", form=form, room="board", vessel=vessel, next=onward
    )
