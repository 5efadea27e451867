"""The agents: anybody signed in may look, the head brewer may change."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect

from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.regimes import actions
from brewhygiene.regimes.agents.forms import AgentForm
from brewhygiene.regimes.models import Agent
from brewhygiene.regimes.queries import agents_for_setup
from brewhygiene.regimes.rules.advice import advice_on_agent
from brewhygiene.regimes.rules.no_rinse import starting_rows


def agents(request: Request) -> HttpResponse:
    rows = [(agent, advice_on_agent(agent)) for agent in agents_for_setup()]
    return page(request, "regimes/agents/agents.html", room="setup", rows=rows)


def _save(request: Request, *, agent: Agent | None) -> HttpResponse:
    form = AgentForm(sent(request), agent=agent, currency=request.brewery.currency)
    saved = submitted(
        request,
        form,
        lambda by: actions.save_agent(by=by, values=form.values(), agent=agent),
        said=lambda kept: f"{kept.name} saved.",
    )
    if saved is not None:
        for advice in advice_on_agent(saved):
            messages.warning(request, advice)
        return redirect("regimes:agents")
    return page(
        request,
        "regimes/agents/edit.html",
        form=form,
        room="setup",
        agent=agent,
        advice=advice_on_agent(agent) if agent else [],
        starting_rows=starting_rows(),
    )


@permission_needed("edit_setup")
def add(request: Request) -> HttpResponse:
    return _save(request, agent=None)


@permission_needed("edit_setup")
def edit(request: Request, pk: int) -> HttpResponse:
    return _save(request, agent=get_object_or_404(Agent, pk=pk))
