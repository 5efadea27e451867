"""What is done with a solution, a page each: made up, read, topped up, dumped, and a rinse."""

from collections.abc import Callable

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.cache import never_cache

from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.forms import ActionForm
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.regimes.cautions import DEFERENCE, cautions_of_handling
from brewhygiene.skids.models import Skid, Solution, SolutionCheck, SolutionTank
from brewhygiene.skids.queries import agents_in_tank, solutions, states_of
from brewhygiene.skids.solutions import actions
from brewhygiene.skids.solutions.forms import (
    CheckForm,
    DumpForm,
    MakeUpForm,
    RinseForm,
    TopUpForm,
)


@never_cache
@permission_needed("work_cellar")
def make_up(request: Request, pk: int) -> HttpResponse:
    """Record that a tank was filled with a fresh solution."""
    tank = get_object_or_404(SolutionTank.objects.select_related("skid"), pk=pk)
    before = tank.made_solutions.select_related("agent").last()
    form = MakeUpForm(
        sent(request), brewery=request.brewery, before=before, tank_l=tank.volume_hl * 100
    )

    def act(by: Actor) -> Solution:
        given = form.given
        return actions.make_up(
            by=by, tank=tank, **{**given, "source": ValueSource(given["source"])}
        )

    if submitted(request, form, act, said=lambda made: f"{made.tank.name} made up."):
        return redirect("skids:tank", pk)
    return page(
        request,
        "skids/solutions/make_up.html",
        form=form,
        room="setup",
        tank=tank,
        left=agents_in_tank(tank),
        full=before is not None and before.dumped_at is None,
        cautions=cautions_of_handling(),
        deference=DEFERENCE,
    )


def _doing(
    request: Request,
    pk: int,
    make: Callable[[Solution], ActionForm],
    act: Callable[[Actor, Solution, ActionForm], object],
    *,
    template: str,
    said: str,
) -> HttpResponse:
    """A page that does one thing with a solution, and goes back to its tank."""
    found = get_object_or_404(solutions(), pk=pk)
    if request.method != "POST" and found.dumped_at is not None:
        return redirect("skids:solution", pk)  # which says when and by whom
    form = make(found)
    if submitted(request, form, lambda by: act(by, found, form), said=said) is not None:
        return redirect("skids:tank", found.tank_id)
    return page(
        request,
        f"skids/solutions/{template}.html",
        form=form,
        room="setup",
        solution=found,
        tank=found.tank,
        state=states_of([found], now=timezone.now())[0],
        cautions=cautions_of_handling(found.agent.active_substance),
        deference=DEFERENCE,
    )


def _last_titration(solution: Solution) -> SolutionCheck | None:
    """Of this solution, else of the one before in its tank. 0 queries, or 1."""
    own = [check for check in solution.solution_checks.all() if check.titrated]
    if own:
        return own[-1]
    return (
        SolutionCheck.objects.filter(solution__tank=solution.tank_id, titration__isnull=False)
        .order_by("-pk")
        .first()
    )


@never_cache
@permission_needed("work_cellar")
def check(request: Request, pk: int) -> HttpResponse:
    """Record a titration of a solution, its temperature, or whether soil is seen."""

    def make(found: Solution) -> ActionForm:
        last = _last_titration(found)
        return CheckForm(sent(request), solution=found, last=last, brewery=request.brewery)

    def act(by: Actor, found: Solution, form: ActionForm) -> object:
        assert isinstance(form, CheckForm)
        return actions.check_solution(by=by, solution=found, **form.values())

    return _doing(request, pk, make, act, template="check", said="Reading recorded.")


@never_cache
@permission_needed("work_cellar")
def top_up(request: Request, pk: int) -> HttpResponse:
    """Record what was added to a solution."""
    return _doing(
        request,
        pk,
        lambda found: TopUpForm(sent(request), brewery=request.brewery, solution=found),
        lambda by, found, form: actions.top_up(by=by, solution=found, **form.given),
        template="top_up",
        said="Top-up recorded. Read the strength again.",
    )


@never_cache
@permission_needed("work_cellar")
def dump(request: Request, pk: int) -> HttpResponse:
    """Record that a solution went to the drain."""
    return _doing(
        request,
        pk,
        lambda found: DumpForm(sent(request)),
        lambda by, found, form: actions.dump(by=by, solution=found, **form.given),
        template="dump",
        said="Dump recorded.",
    )


def _rinse(request: Request, gear: Skid | SolutionTank, to: str) -> HttpResponse:
    form = RinseForm(sent(request), brewery=request.brewery)
    rinsed = submitted(
        request,
        form,
        lambda by: actions.record_rinse(by=by, gear=gear, **form.given),
        said=f"Rinse of {gear.name} recorded.",
    )
    if rinsed is not None:
        return redirect(to, gear.pk)
    return page(request, "skids/solutions/rinse.html", form=form, room="setup", gear=gear, to=to)


@never_cache
@permission_needed("work_cellar")
def rinse_skid(request: Request, pk: int) -> HttpResponse:
    """Record a rinse of a skid or a hose by itself."""
    return _rinse(request, get_object_or_404(Skid, pk=pk), "skids:skid")


@never_cache
@permission_needed("work_cellar")
def rinse_tank(request: Request, pk: int) -> HttpResponse:
    """Record a rinse of an empty solution tank."""
    return _rinse(request, get_object_or_404(SolutionTank, pk=pk), "skids:tank")
