"""What the check of allergens shows as its evidence, in situations told in words."""

import pytest

from tests.release.test_gate_evidence import ONE, gates

MILK = "Milk, lactose included"
STRIP = "strip test, read here, lot A1, in date until 2027-01-31"


@pytest.mark.parametrize(
    "cells, evidence",
    [
        (ONE, ["Carries no allergen of the list"]),
        (
            {**ONE, "other": "carries milk"},
            ["Carries milk. The next beer is not known, so its filling asks"],
        ),
        (
            {**ONE, "other": "carries milk; next beer with milk"},
            ["Carries milk, which Custard declares"],
        ),
        (
            {"now": "1:00", "other": "carries milk; next beer plain"},
            [f"{MILK} of Stout: no finished clean"],
        ),
        (
            {**ONE, "other": "carries milk; next beer plain"},
            [f"{MILK} of Stout: Hot, version 1 is not validated against it"],
        ),
        (
            {**ONE, "other": "carries milk; next beer plain; validated too late"},
            [f"{MILK} of Stout: Hot, version 1 is not validated against it"],
        ),
        (
            {**ONE, "other": "carries milk; next beer plain; validated retired"},
            [f"{MILK} of Stout: Hot, version 1 is not validated against it"],
        ),
        (
            {**ONE, "other": "carries milk; next beer plain; validated before"},
            [f"{MILK} of Stout: no allergen test after the clean"],
        ),
        (
            {
                **ONE,
                "other": "carries milk; next beer plain; validated before; milk test positive",
            },
            [f"{MILK} of Stout: {STRIP}: positive (read). Clean again"],
        ),
        (
            {**ONE, "other": "next beer plain; validated before; milk test negative"},
            [f"{MILK}: Hot, version 1, validated 2026-01-05 (R 7); {STRIP}: negative (read)"],
        ),
    ],
)
def test_it_says_what_is_missing_or_what_proved_it(
    cells: dict[str, str], evidence: list[str]
) -> None:
    assert list(gates(**cells)["allergens"].evidence) == evidence
