"""Application identifiers: what stands behind the two to four digits before each value.

Formats and predefined lengths of 00 to 37 and 240 are as read in GS1's Barcode Syntax Dictionary;
those of the other identifiers are from memory, and tested against an independent reader. They are
needed to find where a value ends, also of what nobody here asks for.
"""

import dataclasses
import re

# The 82 characters of GS1's set for text: no blank, no #, no @.
TEXT = r"[!\"%&'()*+,\-./0-9:;<=>?A-Z_a-z]"

# How long the field is, with its identifier, by the first two digits. It needs no separator
# behind it; every other field ends at one or at the end. The list is closed.
PREDEFINED = {
    "00": 20,
    **dict.fromkeys(("01", "02", "03"), 16),
    "04": 18,
    **dict.fromkeys(map(str, range(11, 20)), 8),
    "20": 4,
    **dict.fromkeys(map(str, range(31, 37)), 10),
    "41": 16,
}


@dataclasses.dataclass(frozen=True)
class Identifier:
    """One kind of field: its name in words, and what its value may be."""

    name: str
    digits: int = 0
    text: int = 0
    text_from: int = 1
    checked: bool = False
    is_date: bool = False

    @property
    def longest(self) -> int:
        return self.digits + self.text

    @property
    def shortest(self) -> int:
        return self.digits + (self.text_from if self.text else 0)

    def fits(self, value: str) -> bool:
        """Whether the characters are of the kinds that stand here; the length is right."""
        rest = rf"{TEXT}{{0,{self.text}}}" if self.text else ""
        return re.fullmatch(rf"[0-9]{{{self.digits}}}{rest}", value) is not None


@dataclasses.dataclass(frozen=True)
class Count(Identifier):
    """A number of up to so many digits: ``text`` is how many at most."""

    def fits(self, value: str) -> bool:
        return re.fullmatch(r"[0-9]+", value) is not None


def _date(name: str) -> Identifier:
    return Identifier(name, digits=6, is_date=True)


_ONE_BY_ONE: dict[str, Identifier] = {
    "00": Identifier("number of the pallet", digits=18, checked=True),
    "01": Identifier("product number", digits=14, checked=True),
    "02": Identifier("number of the product inside", digits=14, checked=True),
    "03": Identifier("number of the product made to order", digits=14, checked=True),
    "10": Identifier("lot", text=20),
    "11": _date("production date"),
    "12": _date("due date"),
    "13": _date("packing date"),
    "15": _date("best before date"),
    "16": _date("sell by date"),
    "17": _date("expiry date"),
    "20": Identifier("variant", digits=2),
    "21": Identifier("serial number", text=20),
    "22": Identifier("consumer variant", text=20),
    "235": Identifier("extension of the product number", text=28),
    "240": Identifier("additional product number", text=30),
    "241": Identifier("customer's part number", text=30),
    "242": Count("made-to-order number", text=6),
    "243": Identifier("packaging component", text=20),
    "250": Identifier("second serial number", text=30),
    "251": Identifier("source", text=30),
    "253": Identifier("document number", digits=13, text=17, text_from=0),
    "254": Identifier("part of a place", text=20),
    "255": Identifier("coupon", digits=13, text=12, text_from=0),
    "30": Count("count", text=8),
    "37": Count("count of the products inside", text=8),
    "400": Identifier("order number", text=30),
    "401": Identifier("consignment", text=30),
    "402": Identifier("shipment", digits=17, checked=True),
    "403": Identifier("route", text=30),
    **{f"41{last}": Identifier("place", digits=13, checked=True) for last in range(8)},
    "420": Identifier("postal code", text=20),
    "421": Identifier("postal code", digits=3, text=9),
    "422": Identifier("country of origin", digits=3),
    "424": Identifier("country of processing", digits=3),
    "426": Identifier("country of every step", digits=3),
    "7001": Identifier("stock number", digits=13),
    "7003": Identifier("expiry date and time", digits=10, is_date=True),
    "7004": Count("active potency", text=4),
    "7006": _date("first freezing date"),
    "8005": Identifier("price of a unit", digits=6),
    "8008": Count("production date and time", text=12),
    "8020": Identifier("payment slip", text=25),
    "8200": Identifier("address of the packaging", text=70),
    "90": Identifier("text agreed with a partner", text=30),
    **{f"9{last}": Identifier("company's own text", text=90) for last in range(1, 10)},
}
# Three digits name what is measured, the fourth says where its decimal point stands.
_MEASURES = (
    *range(310, 317),
    *range(320, 338),
    *range(340, 350),
    *range(350, 358),
    *range(360, 370),
)
OTHER = "another field"
_OTHERS: dict[int, tuple[str, ...]] = {
    2: ("7010",),
    3: ("427", "7008"),
    4: ("7041",),
    10: ("7009", "7255"),
    12: ("7005", "8011"),
    15: ("423", "425"),
    20: ("4318", "7020", "7021", "7022", "7240", "8002", "8012", *(f"71{n}" for n in range(8))),
    25: ("7242", "8013", "8014"),
    30: ("4308", "4319", "7002", "7023", "8004", *(f"70{n}" for n in range(30, 40))),
    34: ("8007",),
    35: ("4300", "4301", "4310", "4311", "4320"),
    50: ("8009",),
    70: ("8110", "8112", *(f"43{n:02}" for n in (*range(2, 7), *range(12, 17)))),
}
IDENTIFIERS: dict[str, Identifier] = {
    **_ONE_BY_ONE,
    **{
        f"{measure}{point}": Identifier("measure", digits=6)
        for measure in _MEASURES
        for point in range(6)
    },
    **{f"390{point}": Count("amount", text=15) for point in range(10)},
    **{f"391{point}": Count("amount", text=18) for point in range(10)},
    **{f"392{point}": Count("price", text=15) for point in range(10)},
    **{f"393{point}": Count("price", text=18) for point in range(10)},
    **{f"394{point}": Identifier("discount", digits=4) for point in range(4)},
    **{f"395{point}": Identifier("price of a unit", digits=6) for point in range(6)},
    # What a shipper, a hospital or a cash desk asks for: only its length matters here.
    **{
        number: Identifier(OTHER, text=length)
        for length, numbers in _OTHERS.items()
        for number in numbers
    },
}
LONGEST_IDENTIFIER = 4


def identifier_at(text: str) -> str:
    """The identifier that a text begins with, or ''. No identifier begins another one."""
    for length in range(2, LONGEST_IDENTIFIER + 1):
        if text[:length] in IDENTIFIERS:
            return text[:length]
    return ""
