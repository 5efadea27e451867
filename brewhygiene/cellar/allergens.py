"""The closed list of allergens that a beer may declare, and what an older text says of it.

The list is that of Regulation (EU) No 1169/2011, Annex II, from memory. Its first group, cereals
containing gluten, is listed by cereal, because a label names the cereal. Lactose is milk.
"""

import re
from collections.abc import Collection, Iterable

from django.db import models


class Allergen(models.TextChoices):
    """What Annex II has to be named on a label, from memory."""

    BARLEY = "barley", "barley (gluten)"
    WHEAT = "wheat", "wheat, spelt included (gluten)"
    RYE = "rye", "rye (gluten)"
    OATS = "oats", "oats (gluten)"
    MILK = "milk", "milk, lactose included"
    NUTS = "nuts", "nuts"
    PEANUTS = "peanuts", "peanuts"
    SOYBEANS = "soybeans", "soybeans"
    EGGS = "eggs", "eggs"
    FISH = "fish", "fish"
    CRUSTACEANS = "crustaceans", "crustaceans"
    MOLLUSCS = "molluscs", "molluscs"
    CELERY = "celery", "celery"
    MUSTARD = "mustard", "mustard"
    SESAME = "sesame", "sesame"
    LUPIN = "lupin", "lupin"
    SULPHITES = "sulphites", "sulphites above 10 mg/L"


GLUTEN = (Allergen.BARLEY, Allergen.WHEAT, Allergen.RYE, Allergen.OATS)
# Words of an older free text. "Gluten" alone does not say which cereal, so that it is all of them.
_SAID: dict[str, tuple[Allergen, ...]] = {
    "gluten": GLUTEN,
    "cereal": GLUTEN,
    "barley": (Allergen.BARLEY,),
    "wheat": (Allergen.WHEAT,),
    "spelt": (Allergen.WHEAT,),
    "rye": (Allergen.RYE,),
    "oat": (Allergen.OATS,),
    "oatmeal": (Allergen.OATS,),
    "milk": (Allergen.MILK,),
    "lactose": (Allergen.MILK,),
    "dairy": (Allergen.MILK,),
    "whey": (Allergen.MILK,),
    "casein": (Allergen.MILK,),
    "cream": (Allergen.MILK,),
    "nut": (Allergen.NUTS,),
    "almond": (Allergen.NUTS,),
    "hazelnut": (Allergen.NUTS,),
    "walnut": (Allergen.NUTS,),
    "cashew": (Allergen.NUTS,),
    "pecan": (Allergen.NUTS,),
    "pistachio": (Allergen.NUTS,),
    "macadamia": (Allergen.NUTS,),
    "peanut": (Allergen.PEANUTS,),
    "soy": (Allergen.SOYBEANS,),
    "soya": (Allergen.SOYBEANS,),
    "soybean": (Allergen.SOYBEANS,),
    "egg": (Allergen.EGGS,),
    "fish": (Allergen.FISH,),
    "crustacean": (Allergen.CRUSTACEANS,),
    "shrimp": (Allergen.CRUSTACEANS,),
    "lobster": (Allergen.CRUSTACEANS,),
    "mollusc": (Allergen.MOLLUSCS,),
    "oyster": (Allergen.MOLLUSCS,),
    "celery": (Allergen.CELERY,),
    "mustard": (Allergen.MUSTARD,),
    "sesame": (Allergen.SESAME,),
    "lupin": (Allergen.LUPIN,),
    "sulphite": (Allergen.SULPHITES,),
    "sulfite": (Allergen.SULPHITES,),
    "sulphur": (Allergen.SULPHITES,),
    "sulfur": (Allergen.SULPHITES,),
}


def in_order(codes: Collection[str]) -> list[str]:
    """Codes once each, in the order of the list; ``ValueError`` for one that is not in it.

    >>> in_order(["nuts", "milk", "nuts"])
    ['milk', 'nuts']
    """
    if unknown := set(codes) - set(Allergen.values):
        raise ValueError(f"no allergen of the list: {min(unknown)}")
    return [code for code in Allergen.values if code in codes]


def allergens_in(text: str) -> list[str]:
    """Codes of the allergens that a free text names; nothing for what it does not know.

    >>> allergens_in("Lactose, oats"), allergens_in("coriander"), allergens_in("buttermilk")
    (['oats', 'milk'], [], [])
    """
    found: set[str] = set()
    for word in re.findall(r"[a-z]+", text.casefold()):
        found.update(_SAID.get(word, ()) or _SAID.get(word.removesuffix("s"), ()))
    return in_order(found)


def words_of(codes: Iterable[str]) -> str:
    """As 'milk and nuts', short, in the order of the list.

    >>> words_of(["nuts", "milk", "oats"]), words_of([])
    ('oats, milk and nuts', '')
    """
    named = in_order(set(codes))
    return " and ".join(filter(None, [", ".join(named[:-1]), *named[-1:]]))
