"""Short cuts for tests of the regimes' screens: what the editor sends, and people signed in."""

from collections.abc import Mapping
from typing import Any

from django.test import Client
from django.urls import reverse

from brewhygiene.people.models import User
from brewhygiene.regimes.about import About
from brewhygiene.regimes.actions import create_regime
from brewhygiene.regimes.drafts import COMMON_PRACTICE, StepDraft, WindowDraft
from brewhygiene.regimes.models import Quantity, Regime
from tests.factories import PASSWORD, acting

TIME = WindowDraft("time_min", 5, None, None, source=COMMON_PRACTICE)
RINSE = StepDraft("rinse", windows=(TIME,))


def made(brewer: User, *steps: StepDraft, name: str = "Tank") -> Regime:
    return create_regime(
        by=acting(brewer),
        about=About(name=name, vessel_kinds=["fermenter"]),
        steps=steps or [RINSE],
        password=PASSWORD,
    )


def step_fields(position: int, **values: str) -> dict[str, str]:
    """What the browser sends for one step."""
    start = f"step{position}-"
    empty = {
        f"{start}{quantity}_{part}": ""
        for quantity in Quantity.values
        for part in ("minimum", "target", "maximum", "source")
    }
    return {
        **empty,
        f"{start}kind": "rinse",
        f"{start}agent": "",
        f"{start}instruction": "",
        f"{start}end_criterion": "",
        f"{start}end_criterion_source": "",
        f"{start}concentration_basis": "",
        **{f"{start}{name}": value for name, value in values.items()},
    }


def sent(*steps: Mapping[str, str], do: str = "save", **values: Any) -> dict[str, Any]:
    fields: dict[str, Any] = {
        "name": "Tank",
        "vessel_kinds": ["fermenter"],
        "level": "2",
        "password": PASSWORD,
        "do": do,
    }
    for position, step in enumerate(steps):
        fields |= step_fields(position, **step)
    return {**fields, **values}


def edited(client: Client, regime: Regime, *steps: Mapping[str, str], **values: Any) -> Any:
    """Open the editor and send it with these steps; the reply, or the page it leads to."""
    url = reverse("regimes:edit_regime", args=[regime.pk])
    seen = client.get(url).context["editor"].regime["seen"].value()
    return client.post(url, sent(*steps, seen=seen, **values), follow=True)


TIMED = {"time_min_minimum": "5", "time_min_common": "on"}
