"""The logger files of a clean, on its release record."""

import hashlib

import pytest
from django.utils import timezone

from brewhygiene.reports.record.pdf import record_html, record_pdf
from tests.reports.pdf.text import text_of, words_of
from tests.turnarounds.logger.files import Logged

pytestmark = pytest.mark.django_db


def test_record_names_each_logger_file_with_its_hash() -> None:
    scene = Logged()
    record = scene.caustic()
    logger_file = scene.logger_file()
    scene.write(logger_file, [record])
    turnaround = scene.clean.turnaround
    words = words_of(record_html(turnaround, now=timezone.now()))
    sha256 = hashlib.sha256(scene.csv().encode()).hexdigest()
    sent = f"{logger_file.uploaded_at.day} {logger_file.uploaded_at:%b %Y %H:%M}"
    assert f"Logger file invented.csv, sent {sent} by Jonas Feld (JF), SHA-256 {sha256}" in words
    # The reading says how it was worked out.
    assert "logger file, least of 156 readings" in words
    printed = text_of(record_pdf(turnaround, now=timezone.now()))
    assert sha256 in printed.replace("\n", "").replace(" ", "")


def test_record_without_logger_files_says_nothing_of_them() -> None:
    scene = Logged()
    words = words_of(record_html(scene.clean.turnaround, now=timezone.now()))
    assert "Logger file" not in words
