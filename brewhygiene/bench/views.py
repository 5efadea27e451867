"""The bench's pages. Everybody who is signed in may use them; nothing is written."""

from collections.abc import Iterable

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from brewhygiene.bench.calculator import Calculator
from brewhygiene.bench.catalogue import BY_SLUG, GROUPS
from brewhygiene.bench.queries import agents_to_offer, vessels_to_offer
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Vessel
from brewhygiene.people.requests import Request
from brewhygiene.regimes.cautions import DEFERENCE
from brewhygiene.regimes.models import Agent


@require_safe
def index(request: Request) -> HttpResponse:
    """The calculators, group by group."""
    return render(request, "bench/index.html", {"room": "bench", "groups": GROUPS})


def _form(kind: type[Calculator], address: dict[str, str], brewery: Brewery) -> Calculator:
    agents: Iterable[Agent] = ()
    vessels: Iterable[Vessel] = ()
    fitting = kind.agent_fields()
    if fitting:
        agents = agents_to_offer(sorted(set().union(*fitting.values())))
    if "vessel" in kind.base_fields:
        vessels = vessels_to_offer()
    return kind(address, brewery=brewery, agents=agents, vessels=vessels)


@require_safe
def calculator(request: Request, slug: str) -> HttpResponse:
    """One calculator: its form, and the answer where its inputs are in the address."""
    form = _form(BY_SLUG[slug], request.GET.dict(), request.brewery)
    query = form.redirect_query()
    if query is not None:
        return redirect(f"{request.path}?{query}#answer")
    answer = form.answer() if form.is_bound else None
    return render(
        request,
        "bench/calculator.html",
        {
            "room": "bench",
            "form": form,
            "answer": answer,
            "deference": DEFERENCE,
            "link": request.build_absolute_uri(f"{request.path}?{form.query}"),
        },
    )
