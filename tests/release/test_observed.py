"""The photos of what was observed in a clean, where the release is decided."""

import pytest
from django.urls import reverse

from brewhygiene.release.evidence import cleans_of
from brewhygiene.release.queries import load_dossier
from brewhygiene.turnarounds.models import CleanPurpose, StepRecord
from tests.evidence import unguarded
from tests.factories import NOW, Cellar
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db
KEPT = [
    {"observation": "looks_clean", "yes": True, "note": "", "photo": {"id": 7, "sha256": "ab"}},
    {"observation": "smells_clean", "yes": False, "note": "of hops", "photo": None},
]


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


def observed(cellar: Cellar) -> StepRecord:
    """A clean whose first step has a yes with a photograph, and a no without."""
    turnaround = cellar.cleaned()
    record = StepRecord.objects.filter(clean__turnaround=turnaround).earliest("pk")
    with unguarded():
        StepRecord.objects.filter(clean__turnaround=turnaround).update(observations=None)
        StepRecord.objects.filter(pk=record.pk).update(observations=KEPT)
    return record


def test_a_photo_is_shown_once_with_who_took_it_and_what_it_shows(cellar: Cellar) -> None:
    address = reverse("release:decide", args=[observed(cellar).clean.turnaround_id])
    html = " ".join(signed_in(cellar.brewer).get(address).content.decode().split())
    photo = reverse("turnarounds:step_photo", args=[7])
    shown = f'<a href="{photo}"><img src="{photo}" alt="Photo: looks clean" loading="lazy"></a>'
    assert f'{shown} <p>Looks clean<span class="under">Seen by {cellar.hand}, ' in html
    assert html.count(f'src="{photo}"') == 1


def test_what_has_no_photo_is_told_by_the_check_alone(cellar: Cellar) -> None:
    address = reverse("release:decide", args=[observed(cellar).clean.turnaround_id])
    html = " ".join(signed_in(cellar.brewer).get(address).content.decode().split())
    assert html.count("does not smell clean: of hops") == 1
    assert "Does not smell clean" not in html


def test_only_photos_of_cleans_that_count_are_kept(cellar: Cellar) -> None:
    record = observed(cellar)
    (clean,) = cleans_of(load_dossier(record.clean.turnaround, now=NOW))
    assert [(one.words, one.photo_pk) for one in clean.photos] == [("looks clean", 7)]
    assert clean.clean.purpose == CleanPurpose.CLEAN
