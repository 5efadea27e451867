"""The record names a vessel's materials, and what was limited or allowed by a label."""

import hashlib
from datetime import timedelta

import pytest

from brewhygiene.regimes.materials import actions
from brewhygiene.regimes.materials.actions import LabelFile
from brewhygiene.reports.record.pdf import record_html
from brewhygiene.turnarounds.actions import stop_clean
from brewhygiene.turnarounds.models import Clean, Turnaround
from tests.factories import NOW, PASSWORD, Cellar, acting, add_step, make_peracetic, make_version
from tests.reports.pdf.text import words_of

pytestmark = pytest.mark.django_db
MINUTE = timedelta(minutes=1)
PDF = b"%PDF-1.4\n"


@pytest.fixture
def cellar() -> Cellar:
    cellar = Cellar()
    cellar.vessel.seal_material = "nbr"
    cellar.vessel.spray_device = "none"
    cellar.vessel.save()
    cellar.version = make_version(steps=False)
    add_step(
        cellar.version,
        "sanitiser",
        agent=make_peracetic(name="Peracetic 15"),
        windows={"concentration": (80, 200)},
        basis="mg_l",
    )
    return cellar


def words(turnaround: Turnaround) -> str:
    return words_of(record_html(turnaround, now=NOW + timedelta(hours=9)))


def run(cellar: Cellar, *, now: object = NOW) -> Clean:
    return cellar.run(cellar.started(cellar.emptied(), now=NOW), now=NOW)


LIMIT = (
    "Limited Step 1, a seal: Peracetic 15 (peracetic acid) on NBR rubber: 5 to 10 min, not longer. "
    "Source: A brewery's published procedure. Limited."
)


def test_record_names_the_materials_and_a_limit_that_was_ticked(cellar: Cellar) -> None:
    text = words(run(cellar).turnaround)
    assert (
        "Materials The vessel: stainless steel 304 / 1.4301 · A seal: NBR rubber, as set up when "
        "this was printed"
    ) in text
    assert f"{LIMIT} Confirmed before its step." in text


def test_limit_that_nobody_confirmed_is_said_to_be_so(cellar: Cellar) -> None:
    clean = cellar.started(cellar.emptied())
    stop_clean(by=acting(cellar.hand, now=NOW + MINUTE), clean=clean, reason="Pump failed")
    assert f"{LIMIT} Not confirmed." in words(clean.turnaround)


def test_limit_that_was_signed_names_the_signer_from_then_on(cellar: Cellar) -> None:
    clean = cellar.started(cellar.emptied())
    stop_clean(by=acting(cellar.hand, now=NOW + MINUTE), clean=clean, reason="Pump failed")
    actions.sign_limits(
        by=acting(cellar.brewer, now=NOW + 2 * MINUTE),
        version=cellar.version,
        vessel=cellar.vessel,
        password=PASSWORD,
    )
    cellar.run(cellar.started(clean.turnaround, now=NOW + 3 * MINUTE), now=NOW + 3 * MINUTE)
    text = words(clean.turnaround)
    # The first clean had ended before anybody signed.
    assert text.count(f"{LIMIT} Not confirmed.") == 1
    assert text.count(f"{LIMIT} Signed by Mara Oduya.") == 1


def test_label_is_on_the_record_with_its_hash(cellar: Cellar) -> None:
    cellar.vessel.material = "copper"
    cellar.vessel.save()
    digest = hashlib.sha256(PDF).hexdigest()
    label = actions.keep_label(
        by=acting(cellar.brewer),
        agent=cellar.version.steps.get().agent,
        material="copper",
        says="Safe on copper up to 200 mg/L.",
        max_strength=200,
        file=LabelFile("letter.pdf", PDF, digest, ".pdf"),
        password=PASSWORD,
    )
    clean = run(cellar)
    actions.withdraw_label(
        by=acting(cellar.brewer, now=NOW + timedelta(hours=2)),
        label=label,
        reason="New recipe",
        password=PASSWORD,
    )
    # It counted when the clean was run.
    text = words(clean.turnaround)
    assert "By label Step 1, the vessel: Peracetic 15 (peracetic acid) on copper: corrodes" in text
    assert (
        "Allowed by its label: Safe on copper up to 200 mg/L. Signed by Mara Oduya. letter.pdf, "
        f"SHA-256 {digest}"
    ) in text
