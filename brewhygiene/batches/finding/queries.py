"""What a typed number or name may mean."""

import dataclasses

from django.urls import reverse

from brewhygiene.batches.models.batches import Batch, YeastCrop
from brewhygiene.batches.models.lots import Lot
from brewhygiene.batches.numbers import key_of
from brewhygiene.cellar.models import Vessel
from brewhygiene.quantities.words import BEFORE_RECORD

MOST_OF_EACH = 20


@dataclasses.dataclass(frozen=True)
class Hit:
    """Something whose number or name fits, and where its page is."""

    kind: str
    name: str
    about: str
    url: str
    exact: bool


def found_by(words: str) -> list[Hit]:
    """Batches, crops, lots and vessels, exact hits first. 4 queries, none for no words."""
    key = key_of(words)
    if not key:
        return []
    hits: list[Hit] = []
    for batch in Batch.objects.filter(number_key__contains=key).select_related("beer")[
        :MOST_OF_EACH
    ]:
        url = reverse("batches:batch", args=[batch.pk])
        mark = f", {BEFORE_RECORD}" if batch.before_record else ""
        about = f"{batch.beer.name}{mark}"
        hits.append(Hit("batch", batch.number, about, url, batch.number_key == key))
    for crop in YeastCrop.objects.filter(number_key__contains=key)[:MOST_OF_EACH]:
        url = reverse("batches:crop", args=[crop.pk])
        about = f"generation {crop.generation}"
        hits.append(Hit("yeast crop", crop.number, about, url, crop.number_key == key))
    for lot in Lot.objects.filter(number_key__contains=key).select_related("batch__beer")[
        :MOST_OF_EACH
    ]:
        url = reverse("batches:lot", args=[lot.pk])
        about = f"{lot.batch.beer.name}, batch {lot.batch.number}"
        hits.append(Hit("lot", lot.number, about, url, lot.number_key == key))
    # Few, and by names that no key is kept of.
    for vessel in Vessel.objects.all():
        if key in key_of(vessel.name):
            url = reverse("board:vessel", args=[vessel.pk])
            exact = key_of(vessel.name) == key
            hits.append(Hit("vessel", vessel.name, vessel.get_kind_display(), url, exact))
    return sorted(hits, key=lambda hit: not hit.exact)
