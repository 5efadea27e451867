"""What the parts of a vessel may be made of."""

from django.db import models


class Material(models.TextChoices):
    """What a part of a vessel is made of."""

    UNKNOWN = "unknown", "not known"
    STAINLESS_304 = "stainless_304", "stainless steel 304 / 1.4301"
    STAINLESS_316 = "stainless_316", "stainless steel 316 / 1.4404"
    COPPER = "copper", "copper"
    BRASS = "brass", "brass"
    ALUMINIUM = "aluminium", "aluminium"
    CARBON_STEEL = "carbon_steel", "carbon steel"
    GLASS_LINED = "glass_lined", "glass-lined steel"
    WOOD = "wood", "wood"
    PLASTIC = "plastic", "plastic, kind not known"
    POLYETHYLENE = "polyethylene", "polyethylene"
    POLYPROPYLENE = "polypropylene", "polypropylene"
    PVC = "pvc", "PVC"
    PTFE = "ptfe", "PTFE"
    EPDM = "epdm", "EPDM rubber"
    NBR = "nbr", "NBR rubber"
    FKM = "fkm", "FKM rubber"
    SILICONE = "silicone", "silicone"
    NONE = "none", "none"

    @classmethod
    def some(cls, *members: "Material") -> list[tuple[str, str]]:
        """These as a field's choices."""
        return [(member.value, str(member.label)) for member in members]


HALF_KNOWN = frozenset({Material.UNKNOWN, Material.PLASTIC})
_UNFIT_FOR_WALLS = frozenset({Material.NONE, Material.NBR, Material.FKM})
WALL_MATERIALS = Material.some(*(m for m in Material if m not in _UNFIT_FOR_WALLS))
SEAL_MATERIALS = Material.some(
    Material.UNKNOWN,
    Material.EPDM,
    Material.NBR,
    Material.FKM,
    Material.SILICONE,
    Material.PTFE,
    Material.NONE,
)
SPRAY_MATERIALS = Material.some(
    Material.UNKNOWN,
    Material.STAINLESS_304,
    Material.STAINLESS_316,
    Material.COPPER,
    Material.BRASS,
    Material.PLASTIC,
    Material.POLYPROPYLENE,
    Material.PVC,
    Material.PTFE,
)
