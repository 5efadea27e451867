"""The one write of scanning: that a number in a barcode is a product of this brewery."""

from brewhygiene.ledger.changes import change
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.quantities.codes.numbers import GTIN_DIGITS, is_gtin
from brewhygiene.refusals import Refusal
from brewhygiene.scanning.products import Product, product_of


@action("remember product number")
def remember_product(*, by: Actor, product: Product, gtin: str) -> Recorded[Product]:
    """Recognise a product by its barcode from now on, once somebody confirmed what it is.

    A number that a product has is not replaced from here: a wrong drum would become the right one.
    """
    require(by, "work_cellar", "edit_setup")
    if len(gtin) != GTIN_DIGITS or not is_gtin(gtin):
        raise Refusal("This is not a product number of 14 digits.", field="product", code="gtin")
    product = type(product)._default_manager.select_for_update().get(pk=product.pk)
    if product.gtin and product.gtin != gtin:
        raise Refusal(
            f"{product} has another product number, {product.gtin}. The head brewer can change it "
            "in the set-up.",
            field="product",
            code="has_number",
        )
    other = product_of(gtin)
    if other is not None and other != product:
        raise Refusal(f"This number is remembered as {other}.", field="product", code="taken")
    changed = change(product, gtin=gtin)
    product.save()
    return Recorded(product, {"name": product.name, **changed})
