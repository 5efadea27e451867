"""The agents: anybody signed in may look, the head brewer may change."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, actor_of, sent
from brewhygiene.regimes import actions
from brewhygiene.regimes.agents.forms import AgentForm
from brewhygiene.regimes.models import Agent
from brewhygiene.regimes.queries import agents_for_setup
from brewhygiene.regimes.rules.advice import advice_on_agent
from brewhygiene.regimes.rules.no_rinse import starting_rows


def agents(request: Request) -> HttpResponse:
    rows = [(agent, advice_on_agent(agent)) for agent in agents_for_setup()]
    return render(request, "regimes/agents/agents.html", {"room": "setup", "rows": rows})


def _save(request: Request, *, agent: Agent | None) -> HttpResponse:
    brewery = request.brewery
    form = AgentForm(sent(request), agent=agent, currency=brewery.currency)
    if request.method == "POST" and form.is_valid():
        saved = form.attempt(
            lambda: actions.save_agent(by=actor_of(request), values=form.values(), agent=agent)
        )
        if saved is not None:
            messages.success(request, f"{saved.name} is saved.")
            for advice in advice_on_agent(saved):
                messages.warning(request, advice)
            return redirect("regimes:agents")
    context: dict[str, Any] = {
        "room": "setup",
        "form": form,
        "agent": agent,
        "advice": advice_on_agent(agent) if agent else [],
        "starting_rows": starting_rows(),
    }
    return render(
        request, "regimes/agents/edit.html", context, status=422 if form.is_bound else 200
    )


@permission_needed("edit_setup")
def add(request: Request) -> HttpResponse:
    return _save(request, agent=None)


@permission_needed("edit_setup")
def edit(request: Request, pk: int) -> HttpResponse:
    return _save(request, agent=get_object_or_404(Agent, pk=pk))
