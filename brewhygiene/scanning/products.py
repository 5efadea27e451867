"""Products by the number in their barcode: ATP tests and agents that were scanned here before."""

from brewhygiene.atp.models.meters import AtpTest, AtpTestLot
from brewhygiene.quantities.codes.numbers import is_number
from brewhygiene.regimes.models import Agent

Product = AtpTest | Agent
KINDS: dict[str, type[Product]] = {"atp_test": AtpTest, "agent": Agent}


def product_of(gtin: str) -> Product | None:
    """What has this number, 14 digits. 2 queries at most."""
    if not gtin:
        return None
    return AtpTest.objects.filter(gtin=gtin).first() or Agent.objects.filter(gtin=gtin).first()


def name_of(product: Product) -> str:
    """How a product is named where only one text is handed on: its kind and its number here."""
    kind = next(kind for kind, model in KINDS.items() if isinstance(product, model))
    return f"{kind}:{product.pk}"


def named(text: str) -> Product | None:
    """The product of such a name. 1 query."""
    kind, _, number = text.partition(":")
    if kind not in KINDS or not is_number(number):
        return None
    found: Product | None = KINDS[kind]._default_manager.filter(pk=number).first()
    return found


def test_lots_called(lot: str, *, product: Product | None) -> list[AtpTestLot]:
    """Lots of ATP tests of this name, of the product where it is known. 1 query at most."""
    if not lot or isinstance(product, Agent):
        return []
    lots = AtpTestLot.objects.select_related("atp_test").filter(lot__iexact=lot, active=True)
    return list(lots.filter(atp_test=product) if product is not None else lots)


def without_number() -> list[tuple[str, list[tuple[str, str]]]]:
    """Products in use that have no number yet, as a field's choices. 2 queries."""
    groups = (
        ("ATP tests", AtpTest.objects.filter(gtin="")),
        ("Agents", Agent.objects.filter(gtin="", active=True)),
    )
    return [(title, [(name_of(one), str(one)) for one in found]) for title, found in groups]
