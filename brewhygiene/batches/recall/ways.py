"""A lot's way forward to its customers, and back to all that it comes from."""

from typing import Any

from brewhygiene.batches.models.batches import Batch, BatchFill, YeastCrop
from brewhygiene.batches.models.lots import Lot
from brewhygiene.batches.models.movements import Touch
from brewhygiene.batches.trace.walk import of_touches, walk_backward
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Vessel
from brewhygiene.quantities.sorting import natural_key
from brewhygiene.quantities.style import shown_moment


def both_ways(lot: Lot) -> dict[str, Any]:
    """Customers with units, and batches, crops and vessels behind it, by name. 8 queries."""
    seeds = of_touches(Touch.objects.filter(lot=lot).values_list("pk", flat=True))
    back = walk_backward(seeds, freed_by_clean=Brewery.current().clean_frees_equipment)
    links = BatchFill.objects.filter(fill__in={one.fill_pk for one in back if one.fill_pk})
    batches = Batch.objects.filter(pk__in={lot.batch_id, *links.values_list("batch", flat=True)})
    crops = YeastCrop.objects.filter(pk__in={one.crop_pk for one in back if one.crop_pk})
    vessels = Vessel.objects.filter(pk__in={one.vessel_pk for one in back if one.vessel_pk})
    return {
        "customers": [
            {
                "name": shipment.customer.name,
                "address": shipment.customer.address,
                "units": shipment.units,
                "shipped_on": shown_moment(shipment.shipped_on, "j M Y"),
                "document": shipment.document,
            }
            for shipment in lot.shipments.select_related("customer")
        ],
        "batches": [f"{one.number}, {one.beer}" for one in batches.select_related("beer")],
        "crops": [f"{one.number}, {one.supplier or one.get_source_display()}" for one in crops],
        "vessels": sorted((one.name for one in vessels), key=natural_key),
    }
