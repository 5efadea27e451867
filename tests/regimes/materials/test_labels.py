"""Labels that allow an agent on a material, and limits that are signed once."""

import hashlib
import io
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import Signature, User
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.regimes.materials import actions
from brewhygiene.regimes.materials.actions import LabelFile
from brewhygiene.regimes.materials.fit import findings
from brewhygiene.regimes.materials.labels import Labels
from brewhygiene.regimes.materials.models import MaterialLabel
from brewhygiene.regimes.models import Agent, RegimeVersion
from brewhygiene.turnarounds.models import Clean, Turnaround
from brewhygiene.turnarounds.queries import cleans_with_records, regime_choices
from brewhygiene.turnarounds.steps.safety import required_codes
from tests.factories import (
    NOW,
    PASSWORD,
    Cellar,
    acting,
    add_step,
    make_agent,
    make_peracetic,
    make_version,
)

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)
PDF = b"%PDF-1.4\nan invented label\n%%EOF\n"
FILE = LabelFile("label.pdf", PDF, hashlib.sha256(PDF).hexdigest(), ".pdf")


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


@pytest.fixture
def copper(cellar: Cellar) -> Turnaround:
    """An emptied copper vessel with seals of EPDM and no spray device."""
    cellar.vessel.material = "copper"
    cellar.vessel.spray_device = "none"
    cellar.vessel.save()
    return cellar.emptied()


def kept(user: User, agent: Agent, material: str = "copper", **values: Any) -> MaterialLabel:
    now = values.pop("now", NOW)
    return actions.keep_label(
        by=acting(user, now=now),
        agent=agent,
        material=material,
        **{"says": " Safe on copper ", "file": FILE, "password": PASSWORD, **values},
    )


def sanitising(agent: Agent, most: float = 200) -> RegimeVersion:
    version = make_version(steps=False)
    add_step(version, "sanitiser", agent=agent, windows={"concentration": (80, most)}, basis="mg_l")
    return version


def stored_files() -> set[str]:
    return set(default_storage.listdir("labels")[1]) if default_storage.exists("labels") else set()


def refused(call: Any) -> tuple[str | None, str]:
    """Beside which field, by which code; nothing is written, no file is left."""
    before, files = Entry.objects.count(), stored_files()
    with pytest.raises(Refusal) as refusal:
        call()
    assert (Entry.objects.count(), MaterialLabel.objects.count()) == (before, 0)
    assert stored_files() == files
    return refusal.value.field, refusal.value.code


def start(cellar: Cellar, turnaround: Turnaround, version: RegimeVersion) -> Clean:
    cellar.version = version
    return cellar.started(turnaround)


def test_label_allows_a_pair_that_was_refused(cellar: Cellar, copper: Turnaround) -> None:
    agent = make_peracetic()
    version = sanitising(agent)
    with pytest.raises(Refusal) as refusal:
        start(cellar, copper, version)
    assert refusal.value.code == "unfit_material"
    label = kept(cellar.brewer, agent)
    clean = start(cellar, copper, version)
    # Nothing of it is to be ticked; the step shows it.
    step = cleans_with_records().get(pk=clean.pk).version.steps.all()[0]
    assert list(required_codes(cleans_with_records().get(pk=clean.pk), step)) == ["peracetic"]
    assert (label.says, label.sha256, label.size_bytes) == (
        "Safe on copper",
        FILE.sha256,
        len(PDF),
    )
    assert label.signature.printed_name == "Mara Oduya"
    assert label.signature.meaning == f"Allowed by its label: {agent.name} on copper"
    entry = Entry.objects.get(verb="keep material label")
    assert entry.values["sha256"] == FILE.sha256
    with label.file.open("rb") as stored:
        assert stored.read() == PDF


def test_label_is_of_one_agent_and_one_material(cellar: Cellar, copper: Turnaround) -> None:
    agent, other = make_peracetic(), make_peracetic()
    kept(cellar.brewer, other)
    kept(cellar.brewer, agent, "brass")
    with pytest.raises(Refusal):
        start(cellar, copper, sanitising(agent))
    assert Clean.objects.count() == 0


@pytest.mark.parametrize(("bound", "allowed"), [(None, True), (200, True), (199.9, False)])
def test_label_holds_up_to_its_strength(
    cellar: Cellar, copper: Turnaround, bound: float | None, allowed: bool
) -> None:
    agent = make_peracetic()
    kept(cellar.brewer, agent, max_strength=bound)
    version = sanitising(agent)
    (finding,) = findings(version.steps.get(), copper.vessel)
    assert finding.refused is not allowed


def test_strength_that_is_not_known_is_within_no_bound(cellar: Cellar, copper: Turnaround) -> None:
    agent = make_peracetic()
    kept(cellar.brewer, agent, max_strength=500)
    version = make_version(steps=False)
    step = add_step(version, "sanitiser", agent=agent)
    assert [one.refused for one in findings(step, copper.vessel)] == [True]
    kept(cellar.brewer, agent, file=FILE)
    assert [one.refused for one in findings(step, copper.vessel)] == [False]


GAS = [("NaOH", "aluminium"), ("HNO3", "copper"), ("HNO3+H3PO4", "brass"), ("H3PO4", "aluminium")]


@pytest.mark.parametrize(("substance", "material"), GAS)
def test_no_label_allows_what_gives_off_a_gas(
    cellar: Cellar, substance: str, material: str
) -> None:
    agent = make_agent(active_substance=substance)
    assert refused(lambda: kept(cellar.brewer, agent, material)) == ("material", "gas_forms")


@pytest.mark.parametrize(("substance", "material"), GAS)
def test_gas_is_a_hard_stop_whatever_is_attached(
    cellar: Cellar, copper: Turnaround, substance: str, material: str
) -> None:
    agent, allowed = make_agent(active_substance=substance), make_peracetic()
    label = kept(cellar.brewer, allowed)
    # A label as no action would write it.
    forged = MaterialLabel(
        agent=agent,
        material=material,
        says="Safe",
        file=label.file.name,
        original_name="x",
        size_bytes=1,
        sha256="x",
        signed_at=NOW,
        signature=_signature(cellar),
    )
    forged.save()
    copper.vessel.material = material
    version = make_version(steps=False)
    step = add_step(version, "acid", agent=agent)
    assert [one.refused for one in findings(step, copper.vessel)] == [True]


def _signature(cellar: Cellar) -> Any:
    return Signature.objects.create(
        user=cellar.brewer, printed_name="Mara Oduya", meaning="x", signed_at=NOW
    )


def test_label_of_an_agent_does_not_make_it_cooler(cellar: Cellar, copper: Turnaround) -> None:
    """What melts by heat alone is not the agent's to allow."""
    agent = make_agent()
    copper.vessel.material = "copper"
    kept(cellar.brewer, agent)
    version = make_version(steps=False)
    step = add_step(version, "caustic", agent=agent, windows={"temperature_c": (60, 80)})
    assert [one.refused for one in findings(step, copper.vessel)] == [False]
    copper.vessel.material = "pvc"
    forged = MaterialLabel.objects.get()
    forged.pk, forged.material, forged.signature = None, "pvc", _signature(cellar)
    forged._state.adding = True
    forged.save()
    assert [one.refused for one in findings(step, copper.vessel)] == [True]


@pytest.mark.parametrize(
    ("values", "field", "code"),
    [
        ({"material": "stainless_304"}, "material", "not_refused"),
        ({"material": "nbr"}, "material", "not_refused"),
        ({"material": "unobtainium"}, "material", "refused"),
        ({"says": "  "}, "says", "refused"),
        ({"max_strength": 0}, "max_strength", "refused"),
        ({"password": "no"}, "password", ""),
    ],
)
def test_label_that_says_nothing_is_refused(
    cellar: Cellar, values: dict[str, Any], field: str, code: str
) -> None:
    agent = make_peracetic()
    found = refused(lambda: kept(cellar.brewer, agent, **values))
    assert found[0] == field
    assert code in found[1]


def test_only_the_head_brewer_keeps_and_ends_labels(cellar: Cellar) -> None:
    agent = make_peracetic()
    for user in (cellar.hand, cellar.owner):
        with pytest.raises(NotAllowed):
            kept(user, agent)
    label = kept(cellar.brewer, agent)
    with pytest.raises(NotAllowed):
        actions.withdraw_label(by=acting(cellar.hand), label=label, reason="Old", password=PASSWORD)


def test_label_that_was_ended_allows_nothing_and_stays_on_record(
    cellar: Cellar, copper: Turnaround
) -> None:
    agent = make_peracetic()
    label = kept(cellar.brewer, agent, now=NOW)
    end: dict[str, Any] = {"by": acting(cellar.brewer, now=NOW + HOUR), "label": label}
    with pytest.raises(Refusal) as refusal:
        actions.withdraw_label(reason=" ", password=PASSWORD, **end)
    assert refusal.value.field == "reason"
    with pytest.raises(Refusal) as refusal:
        actions.withdraw_label(reason="New recipe", password="no", **end)
    assert refusal.value.field == "password"
    ended = actions.withdraw_label(reason=" New recipe ", password=PASSWORD, **end)
    assert (ended.withdrawn_at, ended.withdrawn_by, ended.withdrawal_reason) == (
        NOW + HOUR,
        cellar.brewer,
        "New recipe",
    )
    with pytest.raises(Refusal) as refusal:
        actions.withdraw_label(reason="Again", password=PASSWORD, **end)
    assert refusal.value.code == "withdrawn"
    (step,) = sanitising(agent).steps.all()
    assert [one.refused for one in findings(step, copper.vessel)] == [True]
    # What counted at an earlier moment counts there still.
    for at, allowed in (
        (NOW - HOUR, False),
        (NOW, True),
        (NOW + HOUR - timedelta(seconds=1), True),
        (NOW + HOUR, False),
    ):
        (found,) = findings(step, copper.vessel, Labels(at))
        assert found.refused is not allowed


def test_regimes_to_choose_from_take_one_query_for_labels(
    cellar: Cellar, copper: Turnaround, django_assert_num_queries: Any
) -> None:
    agent = make_peracetic()
    for _ in range(3):
        sanitising(agent)
    turnaround = Turnaround.objects.select_related("vessel", "emptying__beer", "next_beer").get()
    with django_assert_num_queries(9):
        _, choices = regime_choices(turnaround)
    assert len([choice for choice in choices if choice.harm]) == 4


# --- pages ---


def client_of(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def photo() -> bytes:
    file = io.BytesIO()
    Image.new("RGB", (8, 8), "white").save(file, "PNG")
    return file.getvalue()


def send(cellar: Cellar, agent: Agent, file: tuple[str, bytes], **values: Any) -> Any:
    return client_of(cellar.brewer).post(
        reverse("regimes:add_label"),
        {
            "agent": agent.pk,
            "material": "copper",
            "says": "Safe on copper",
            "password": PASSWORD,
            "file": SimpleUploadedFile(*file),
            **values,
        },
    )


@pytest.mark.parametrize(
    ("file", "suffix"), [(("label.pdf", PDF), ".pdf"), (("label.png", photo()), ".jpg")]
)
def test_pdf_or_photo_is_kept_and_handed_out(
    cellar: Cellar, file: tuple[str, bytes], suffix: str
) -> None:
    agent = make_peracetic()
    assert send(cellar, agent, file).status_code == 302
    label = MaterialLabel.objects.get()
    assert label.file.name.endswith(suffix)
    with label.file.open("rb") as stored:
        assert hashlib.sha256(stored.read()).hexdigest() == label.sha256
    page = client_of(cellar.hand).get(reverse("regimes:labels")).content.decode()
    assert "Signed by Mara Oduya" in page
    assert f"Open {file[0]}" in page
    assert "End label" not in page
    answer = client_of(cellar.hand).get(reverse("regimes:label_file", args=[label.pk]))
    assert hashlib.sha256(b"".join(answer.streaming_content)).hexdigest() == label.sha256
    assert "attachment" in answer.headers["Content-Disposition"]


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"file": ("label.txt", b"no picture")}, "This file is neither a PDF nor a readable photo"),
        ({"material": "stainless_304"}, "Choose another material."),
        ({"password": "no"}, "This is not your password."),
        ({"says": ""}, "Enter the words of the label that allow it."),
    ],
)
def test_refused_label_keeps_the_words(cellar: Cellar, values: dict[str, Any], words: str) -> None:
    values = dict(values)
    file = values.pop("file", ("label.pdf", PDF))
    answer = send(cellar, make_peracetic(), file, **values)
    html = answer.content.decode()
    assert answer.status_code == 422
    assert f'<p class="error">{words}' in html or f"{words}</p>" in html
    assert MaterialLabel.objects.count() == 0
    if "says" not in values:
        assert "Safe on copper</textarea>" in html


def test_label_is_ended_on_its_page(cellar: Cellar) -> None:
    label = kept(cellar.brewer, make_peracetic())
    address = reverse("regimes:end_label", args=[label.pk])
    client = client_of(cellar.brewer)
    assert client.post(address, {"reason": "", "password": PASSWORD}).status_code == 422
    answer = client.post(address, {"reason": "New recipe", "password": PASSWORD}, follow=True)
    assert "Not in force since" in answer.content.decode()
    assert "New recipe" in answer.content.decode()
