"""What a typed number or name may mean."""

import dataclasses

from django.urls import reverse

from brewhygiene.batches.models.batches import Batch, YeastCrop
from brewhygiene.batches.models.corrections import BrewCorrection
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
    now: str = ""  # the number that it has since, where it was found by an old one


def found_by(words: str) -> list[Hit]:
    """Batches, crops, lots and vessels, by old numbers too, exact hits first. 5 queries or none."""
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
    hits += _renumbered(key, {hit.url for hit in hits})
    return sorted(hits, key=lambda hit: not hit.exact)


def _renumbered(key: str, found: set[str]) -> list[Hit]:
    """What had such a number before it was corrected, and is not found by its own. 1 query.

    Corrections are few, and no key is kept of what they replaced.
    """
    hits: dict[str, Hit] = {}
    for one in BrewCorrection.objects.select_related("batch__beer", "lot__batch__beer"):
        was = key_of(one.was_number)
        if key not in was:
            continue
        if one.batch is not None:
            url = reverse("batches:batch", args=[one.batch.pk])
            hit = Hit("batch", one.was_number, one.batch.beer.name, url, was == key)
            now = one.batch.number
        else:
            assert one.lot is not None
            url = reverse("batches:lot", args=[one.lot.pk])
            hit = Hit("lot", one.was_number, one.lot.batch.beer.name, url, was == key)
            now = one.lot.number
        if url not in found and key_of(now) != was:
            hits[url] = dataclasses.replace(hit, now=now)
    return list(hits.values())[:MOST_OF_EACH]
