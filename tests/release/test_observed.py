"""What was observed of a clean, beside its readings where the release is decided."""

import pytest
from django.urls import reverse

from brewhygiene.release.evidence import cleans_of
from brewhygiene.release.queries import load_dossier
from brewhygiene.turnarounds.models import StepRecord
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


def observed(cellar: Cellar) -> int:
    """A clean whose first step has a yes with a photograph, and a no."""
    turnaround = cellar.cleaned()
    record = StepRecord.objects.filter(clean__turnaround=turnaround).earliest("pk")
    with unguarded():
        StepRecord.objects.filter(clean__turnaround=turnaround).update(observations=None)
        StepRecord.objects.filter(pk=record.pk).update(observations=KEPT)
    return turnaround.pk


def test_each_answer_is_shown_with_who_saw_it_and_its_photo(cellar: Cellar) -> None:
    pk = observed(cellar)
    html = " ".join(
        signed_in(cellar.brewer).get(reverse("release:decide", args=[pk])).content.decode().split()
    )
    photo = reverse("turnarounds:step_photo", args=[7])
    assert f'<a href="{photo}"><img src="{photo}" alt="Photo: looks clean" loading="lazy"></a>' in (
        html
    )
    assert f'<p>Looks clean<span class="under">Seen by {cellar.hand}, ' in html
    assert f'<p>Does not smell clean: of hops<span class="under">Seen by {cellar.hand}, ' in html
    assert html.count(f'src="{photo}"') == 1


def test_only_cleans_that_count_say_what_was_observed(cellar: Cellar) -> None:
    pk = observed(cellar)
    record = StepRecord.objects.filter(clean__turnaround=pk).earliest("pk")
    dossier = load_dossier(record.clean.turnaround, now=NOW)
    (clean,) = cleans_of(dossier)
    assert [one.words for one in clean.observed] == [
        "looks clean",
        "does not smell clean: of hops",
    ]
    assert [one.photo_pk for one in clean.observed] == [7, None]
