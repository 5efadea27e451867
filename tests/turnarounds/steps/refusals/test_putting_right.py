"""What a top-up and a heating-up put right, how much is added, and what is kept of it."""

import pytest

from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.models import Clean
from brewhygiene.turnarounds.models.deviations import Deviation
from tests.factories import Cellar
from tests.turnarounds.steps.refusals.doing import decide, end, read, refusal_of, started

WEAK, STRONG, COLD, HOT = (
    ("concentration", 1.0),
    ("concentration", 3.5),
    ("temperature_c", 50),
    ("temperature_c", 90),
)
NOTHING = ("disposition", "nothing_to_put_right")


def off(cellar: Cellar, clean: Clean, found: tuple[str, float]) -> Deviation:
    """A reading outside its window in the running caustic."""
    quantity, value = found
    basis = {"basis": "ww"} if quantity == "concentration" else {}
    read(cellar, started(cellar, clean), quantity, value, **basis)
    return Deviation.objects.get()


@pytest.mark.parametrize(("found", "what"), [(WEAK, "top_up"), (COLD, "heat")])
def test_a_weak_solution_is_topped_up_and_a_cold_one_heated(
    cellar: Cellar, clean: Clean, found: tuple[str, float], what: str
) -> None:
    decided = decide(cellar, off(cellar, clean, found), what, added_kg=5.5, agent_lot=" C-77 ")
    assert decided.disposition == what
    agent = clean.version.steps.get(order=1).agent
    assert agent is not None
    kept = {"kg": 5.5, "agent": agent.name, "lot": "C-77"} if what == "top_up" else None
    assert decided.added == kept
    assert Entry.objects.get(verb="dispose of deviation").values["added"] == kept


@pytest.mark.parametrize(
    ("found", "what"),
    [
        (WEAK, "heat"),
        (STRONG, "top_up"),
        (STRONG, "heat"),
        (COLD, "top_up"),
        (HOT, "heat"),
        (HOT, "top_up"),
    ],
)
def test_nothing_else_is_put_right_so(
    cellar: Cellar, clean: Clean, found: tuple[str, float], what: str
) -> None:
    deviation = off(cellar, clean, found)
    assert refusal_of(lambda: decide(cellar, deviation, what, added_kg=5)) == NOTHING


@pytest.mark.parametrize(("found", "what"), [(WEAK, "top_up"), (COLD, "heat")])
def test_nor_after_the_step_has_ended(
    cellar: Cellar, clean: Clean, found: tuple[str, float], what: str
) -> None:
    deviation = off(cellar, clean, found)
    end(cellar, deviation.record)
    with pytest.raises(Refusal) as refused:
        decide(cellar, deviation, what, added_kg=5)
    assert (refused.value.field, refused.value.code) == NOTHING
    assert refused.value.message == (
        "Choose another decision: only a solution that read too low in a running step can be "
        "topped up or heated."
    )


@pytest.mark.parametrize("kg", [0.5, 5000])
def test_some_is_added_up_to_five_tonnes(cellar: Cellar, clean: Clean, kg: float) -> None:
    decided = decide(cellar, off(cellar, clean, WEAK), "top_up", added_kg=kg)
    assert decided.added is not None
    assert (decided.added["kg"], decided.added["lot"]) == (kg, "")


@pytest.mark.parametrize("kg", [None, -0.5, 0, 5000.5])
def test_no_other_amount_is(cellar: Cellar, clean: Clean, kg: float | None) -> None:
    deviation = off(cellar, clean, WEAK)
    with pytest.raises(Refusal) as refused:
        decide(cellar, deviation, "top_up", added_kg=kg)
    assert (refused.value.field, refused.value.code) == ("added_kg", "no_amount")
    assert refused.value.message == "Enter how much was added, above 0 and up to 5000 kg."


def test_of_a_long_lot_forty_signs_are_kept(cellar: Cellar, clean: Clean) -> None:
    lot = "".join(str(n % 10) for n in range(45))
    decided = decide(cellar, off(cellar, clean, WEAK), "top_up", added_kg=5, agent_lot=lot)
    assert decided.added is not None
    assert decided.added["lot"] == lot[:40]


def test_a_step_without_an_agent_names_none(cellar: Cellar, clean: Clean) -> None:
    clean.version.steps.filter(order=1).update(agent=None)
    decided = decide(cellar, off(cellar, clean, WEAK), "top_up", added_kg=5)
    assert decided.added == {"kg": 5, "agent": "", "lot": ""}
