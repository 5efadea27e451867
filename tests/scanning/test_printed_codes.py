"""Our own labels, and GS1 codes as QR, read from their pictures by an independent decoder."""

import subprocess
from pathlib import Path

import pytest
import segno
from PIL import Image

from brewhygiene.cellar.models import Vessel
from brewhygiene.quantities.codes.element_strings import read_code
from brewhygiene.reports.labels import labels_of, labels_pdf
from brewhygiene.scanning.places import place_of
from tests.factories import NOW, make_brewery, make_point, make_vessel

BASE = "https://cellar.example.test:8443/"


def decoded(picture: Path) -> list[str]:
    """What zbar reads, a code a line; no other kind of code is looked for."""
    read = subprocess.run(
        ["zbarimg", "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", "--", str(picture)],
        capture_output=True,
        check=True,
        text=True,
        timeout=60,
    )
    # Not by every mark that parts lines: FNC1 is one of them.
    return read.stdout.rstrip("\n").split("\n")


@pytest.mark.django_db
def test_every_label_of_a_printed_sheet_leads_to_its_point(tmp_path: Path) -> None:
    make_brewery()
    vessel = make_vessel(points=0, name="FV 3")
    points = [
        make_point(vessel, name=name, code=code)
        for name, code in (("Racking arm", "K7WQ2MXA"), ("Spray ball", "3N8PD5RC"))
    ]
    sheet = tmp_path / "labels.pdf"
    sheet.write_bytes(labels_pdf(Vessel.objects.all(), base=BASE, now=NOW))
    subprocess.run(
        ["pdftoppm", "-r", "150", "-gray", "-png", str(sheet), str(tmp_path / "page")], check=True
    )
    (picture,) = tmp_path.glob("page*.png")
    read = decoded(picture)
    assert sorted(read) == sorted(
        label.address for label in labels_of(Vessel.objects.all(), base=BASE)
    )
    places = [place_of(text) for text in read]
    assert sorted(place.address for place in places if place) == sorted(
        f"/p/{point.code}/" for point in points
    )


@pytest.mark.django_db
def test_label_with_a_tenth_of_its_code_splashed_is_read(tmp_path: Path) -> None:
    make_brewery()
    vessel = make_vessel(points=0)
    make_point(vessel, code="K7WQ2MXA")
    (label,) = labels_of(Vessel.objects.all(), base=BASE)
    picture = tmp_path / "label.png"
    segno.make(label.address, error="q", micro=False, boost_error=False).save(
        str(picture), scale=8, border=4
    )
    with Image.open(picture) as clean:
        splashed = clean.convert("L")
    side = splashed.width
    # Away from the corners, by which the code is found.
    splashed.paste(255, (side // 2, side // 2, side // 2 + side // 4, side // 2 + side // 4))
    splashed.save(picture)
    assert decoded(picture) == [label.address]


def test_gs1_link_as_qr_is_read(tmp_path: Path) -> None:
    picture = tmp_path / "link.png"
    link = "https://id.gs1.org/01/09506000134352/10/LOT42?17=271200"
    segno.make(link, error="m").save(str(picture), scale=6, border=4)
    (text,) = decoded(picture)
    code = read_code(text, year=2026)
    assert (code.gtin, code.lot) == ("09506000134352", "LOT42")
    assert code.expires_on is not None
    assert code.expires_on.isoformat() == "2027-12-31"


def test_element_string_as_qr_is_read(tmp_path: Path) -> None:
    picture = tmp_path / "elements.png"
    segno.make("010950600013435210AB-12/3\x1d17280105", error="m", mode="byte").save(
        str(picture), scale=6, border=4
    )
    (text,) = decoded(picture)
    code = read_code(text, year=2026)
    assert (code.gtin, code.lot) == ("09506000134352", "AB-12/3")
    assert code.expires_on is not None
    assert code.expires_on.isoformat() == "2028-01-05"
