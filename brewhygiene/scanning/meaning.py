"""What a scanned code means on the page where it was scanned, in words."""

import dataclasses
from datetime import date
from functools import cached_property
from typing import Any

from django.urls import reverse
from django.utils.http import urlencode

from brewhygiene.atp.models.meters import AtpTest, AtpTestLot
from brewhygiene.quantities.codes.element_strings import (
    OF_GTIN,
    Code,
    Unreadable,
    day_in_words,
    looks_like_code,
    plain_text,
    read_code,
)
from brewhygiene.quantities.codes.identifiers import IDENTIFIERS
from brewhygiene.quantities.codes.numbers import is_gtin
from brewhygiene.regimes.models import Agent
from brewhygiene.scanning.products import Product, name_of, product_of, test_lots_called

# What a field for a lot is of.
AGENT, ATP_TEST, TEST_LOT, OTHER = "agent", "atp_test", "test_lot", "other"
EXPECTED = frozenset({AGENT, ATP_TEST, TEST_LOT, OTHER})
LONGEST_LOT = 40
NO_LOT = "This barcode has no lot. Enter the lot as printed on the package."


@dataclasses.dataclass(frozen=True)
class Meaning:
    """A package's code on a day of the brewery: product, lot and whether it is in date."""

    code: Code
    day: date

    @cached_property
    def product(self) -> Product | None:
        """What was scanned here before under this number. 2 queries at most."""
        return product_of(self.code.gtin)

    @cached_property
    def test_lots(self) -> list[AtpTestLot]:
        """The lots of ATP tests that it may be. 1 query at most."""
        return test_lots_called(self.code.lot, product=self.product)

    @property
    def test_lot(self) -> AtpTestLot | None:
        """The one lot that it is; of two with the same name somebody has to choose."""
        return self.test_lots[0] if len(self.test_lots) == 1 else None

    @property
    def is_atp_test(self) -> bool:
        return isinstance(self.product, AtpTest)

    @property
    def to_add(self) -> str:
        """The set-up's page of a new lot of this ATP test, filled in as far as the code goes."""
        assert self.product is not None
        until = self.expires_on.isoformat() if self.expires_on else ""
        filled: dict[str, str | int] = {
            "type": self.product.pk,
            "lot": self.code.lot,
            "expires_on": until,
        }
        return f"{reverse('atp:setup_add_test_lot')}?{urlencode(filled)}"

    @property
    def expires_on(self) -> date | None:
        """As the code says, else as the set-up has it."""
        if self.code.expires_on is not None or self.test_lot is None:
            return self.code.expires_on
        return self.test_lot.expires_on

    @property
    def expired(self) -> str:
        """That it is out of date, or ''; the day it bears is the last day of use."""
        if self.expires_on is None or self.expires_on >= self.day:
            return ""
        return f"This lot is out of date. It expired on {day_in_words(self.expires_on)}."

    @property
    def doubt(self) -> str:
        return self.code.doubt(year=self.day.year)

    @property
    def said(self) -> str:
        """One line for who scanned it."""
        if not self.code.lot:
            return NO_LOT
        whose = f" of {self.product}" if self.product is not None else ""
        until = f", expires {day_in_words(self.expires_on)}" if self.expires_on else ""
        return f"Scanned: lot {self.code.lot}{whose}{until}."

    @property
    def fields(self) -> list[tuple[str, str]]:
        """Every field of the code by its name, dates as days."""
        return [
            (
                IDENTIFIERS[number].name,
                day_in_words(self.code.days[number]) if number in self.code.days else value,
            )
            for number, value in self.code.values.items()
        ]


def meaning_of(text: str, *, day: date) -> Meaning:
    """Read a package's code; raises ``Unreadable``."""
    return Meaning(read_code(text, year=day.year), day)


def lot_of(text: str, *, day: date) -> Meaning:
    """What was scanned into a field for a lot: a code, or the lot itself as text."""
    plain = plain_text(text)
    # A bare number may be a lot; with a check digit that fits it is a product's number.
    if looks_like_code(text) or text.strip()[:3] in OF_GTIN or is_gtin(plain):
        return meaning_of(text, day=day)
    if not plain or len(plain) > LONGEST_LOT or not plain.isprintable():
        raise Unreadable("This is neither a lot nor a barcode of a package.", about="lot")
    return Meaning(Code({"10": plain}, {}), day)


def refused(meaning: Meaning, *, expected: str, agent: Agent | None) -> str:
    """Why this package is not what the field is for, or ''."""
    product = meaning.product
    if product is None:
        return ""
    if expected == AGENT and agent is not None and product != agent:
        return f"This is {product}, not {agent}."
    if expected in (ATP_TEST, TEST_LOT) and not isinstance(product, AtpTest):
        return f"This is {product}, not an ATP test."
    if expected == OTHER:
        return f"This is {product}, not the product of this page."
    return ""


def to_confirm(meaning: Meaning, *, expected: str, agent: Agent | None) -> Product | None:
    """The product that a new number probably is of, so that somebody can say so."""
    if not meaning.code.gtin or meaning.product is not None:
        return None
    candidate: Product | None = None
    if expected == AGENT:
        candidate = agent
    elif expected == TEST_LOT and meaning.test_lot is not None:
        candidate = meaning.test_lot.atp_test
    return candidate if candidate is not None and not candidate.gtin else None


def answer(
    meaning: Meaning, *, expected: str, agent: Agent | None, may_remember: bool
) -> dict[str, Any]:
    """What the page's script fills in and shows beside the field."""
    if wrong := refused(meaning, expected=expected, agent=agent):
        return {"error": wrong}
    asked = to_confirm(meaning, expected=expected, agent=agent) if may_remember else None
    new = bool(meaning.code.gtin) and meaning.product is None and may_remember
    missing = ""
    if expected == TEST_LOT and meaning.code.lot and meaning.test_lot is None:
        missing = (
            f"Two ATP tests have a lot {meaning.code.lot}. Choose it in the list."
            if meaning.test_lots
            else f"Lot {meaning.code.lot} is not in the set-up. The head brewer must add it."
        )
    return {
        "gtin": meaning.code.gtin,
        "lot": meaning.code.lot,
        "expires_on": meaning.expires_on.isoformat() if meaning.expires_on else "",
        "product": name_of(meaning.product) if meaning.product is not None else "",
        "test_lot": meaning.test_lot.pk if meaning.test_lot is not None else None,
        "said": meaning.said,
        "expired": meaning.expired,
        "doubt": meaning.doubt or missing,
        "asked": name_of(asked) if asked is not None else "",
        "question": f"This barcode is new here. Is it {asked}?" if asked is not None else "",
        # The page knows which product was chosen, and asks once it was.
        "new": new and expected == ATP_TEST,
    }
