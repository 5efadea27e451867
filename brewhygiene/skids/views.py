"""Skids, hoses and solutions to look at: for everybody who is signed in."""

from typing import Any
from urllib.parse import urlencode

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.cache import never_cache

from brewhygiene.people.form_pages import page
from brewhygiene.people.requests import Request
from brewhygiene.skids.models import Solution, SolutionTank
from brewhygiene.skids.queries import (
    agents_in_tank,
    last_rinses,
    skids_for_setup,
    solutions,
    states_of,
)
from brewhygiene.skids.questions import carried_by_gear
from brewhygiene.skids.solutions.history import cost_of_solution, history_of
from brewhygiene.skids.solutions.titration import takes_two
from brewhygiene.skids.state import SolutionState, rule_words


@never_cache
def skids(request: Request) -> HttpResponse:
    """Every skid and hose, what its tanks contain and what it last carried. 12 queries at most."""
    found = list(skids_for_setup())
    carried = carried_by_gear(found) if found else {}
    standing = solutions().filter(dumped_at__isnull=True)
    states = {one.tank.pk: one for one in states_of(standing, now=timezone.now())} if found else {}
    rows = [
        (
            skid,
            carried.get(skid.pk, ()),
            [(tank, states.get(tank.pk)) for tank in skid.skid_tanks.all()],
        )
        for skid in found
    ]
    return page(request, "skids/skids.html", room="setup", rows=rows)


@never_cache
def skid(request: Request, pk: int) -> HttpResponse:
    """One skid or hose: what it carries, and its tanks."""
    found = get_object_or_404(skids_for_setup(), pk=pk)
    standing = solutions().filter(tank__skid=found, dumped_at__isnull=True)
    states = {one.tank.pk: one for one in states_of(standing, now=timezone.now())}
    return page(
        request,
        "skids/skid.html",
        room="setup",
        skid=found,
        carried=carried_by_gear([found]).get(found.pk, ()),
        rinsed_at=last_rinses([found]).get(found.pk),
        tanks=[(tank, states.get(tank.pk)) for tank in found.skid_tanks.all()],
    )


def bench_query(solution: Solution, state: SolutionState) -> tuple[str, str]:
    """The bench's calculator for a titration of a solution, and its inputs as they last were."""
    titrated = [one.titration for one in state.checks if one.titration]
    last = titrated[-1] if titrated else None
    query: dict[str, object] = {"substance": solution.agent.active_substance}
    if last is not None:
        query |= {"titrant": last["titrant_eq_l"], "sample": last["sample_ml"]}
    if takes_two(solution.agent):
        if last is not None and last.get("second_ml") is not None:
            query |= {"first_reading": last["first_ml"], "second_reading": last["second_ml"]}
        return "used-caustic", urlencode(query)
    if solution.agent.equivalent_weight_g is not None:
        query["equivalent_weight"] = solution.agent.equivalent_weight_g
    if last is not None:
        query["reading"] = last["first_ml"]
    return "titration", urlencode(query)


def _tank_page(request: Request, tank: SolutionTank, solution: Solution | None) -> HttpResponse:
    state = states_of([solution], now=timezone.now())[0] if solution is not None else None
    context: dict[str, Any] = {}
    if solution is not None and state is not None:
        slug, query = bench_query(solution, state)
        context = {
            "history": history_of(state, request.brewery),
            "cost": cost_of_solution(state, request.brewery),
            "bench_slug": slug,
            "bench_query": query,
        }
    return page(
        request,
        "skids/tank.html",
        room="setup",
        tank=tank,
        solution=solution,
        state=state,
        rule=rule_words(tank),
        left=agents_in_tank(tank),
        others=tank.made_solutions.exclude(pk=solution.pk if solution else 0)
        .select_related("agent", "dumped_by")
        .order_by("-pk")[:20],
        **context,
    )


@never_cache
def tank(request: Request, pk: int) -> HttpResponse:
    """One solution tank: what it contains, and what happened to that."""
    found = get_object_or_404(SolutionTank.objects.select_related("skid"), pk=pk)
    return _tank_page(request, found, solutions().filter(tank=found, dumped_at=None).first())


@never_cache
def solution(request: Request, pk: int) -> HttpResponse:
    """One solution, though it may be dumped by now."""
    found = get_object_or_404(solutions(), pk=pk)
    return _tank_page(request, found.tank, found)
