"""Invented logger files for tests, and a clean that they belong to."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from brewhygiene.turnarounds.logger.screen import StepCard
from brewhygiene.turnarounds.models import Clean, LoggerFile, StepRecord
from brewhygiene.turnarounds.steps import actions as step_actions
from tests.factories import acting
from tests.turnarounds.floor import Floor

# Minutes, °C, L/min, mS/cm: pre-rinse, heating up, caustic, rinse, peracetic acid.
SEGMENTS = (
    (10, 16, 150, 0.5),
    (4, 45, 150, 85),
    (26, 75, 150, 92),
    (10, 17, 150, 0.5),
    (10, 16, 140, 3.0),
)
EVERY_S = 10
HEAD = "Time,Return temp (°C),Flow (L/min),Conductivity (mS/cm)"

Row = tuple[datetime, float, float, float]


def logged(start: datetime, segments: Sequence[tuple[float, ...]] = SEGMENTS) -> list[Row]:
    """Rows of a logger that wrote steady readings, every 10 s."""
    rows: list[Row] = []
    for minutes, temperature, flow, conductivity in segments:
        for _ in range(int(minutes * 60 / EVERY_S)):
            at = start + timedelta(seconds=EVERY_S * len(rows))
            rows.append((at, temperature, flow, conductivity))
    return rows


def as_csv(rows: Sequence[Row], head: str = HEAD) -> str:
    lines = [f"{at:%Y-%m-%d %H:%M:%S},{t:g},{flow:g},{c:g}" for at, t, flow, c in rows]
    return "\n".join([head, *lines]) + "\n"


def uploaded(text: str | bytes, name: str = "invented.csv") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, text if isinstance(text, bytes) else text.encode())


def kept_files() -> list[Path]:
    """The logger files on disk."""
    return sorted(Path(settings.MEDIA_ROOT, "traces").glob("*"))


class Logged(Floor):
    """A clean by the hot regime: pre-rinse and caustic ended, the rest as a test wants it."""

    def __init__(self, **brewery: Any) -> None:
        super().__init__(**brewery)
        # In the middle of a day, so that no file goes over midnight.
        day = timezone.now() - timedelta(days=1)
        self.start = day.replace(hour=10, minute=0, second=0, microsecond=0)
        self.clean: Clean = self.started(self.emptied(now=self.start), now=self.start)
        self.run_step(self.clean, 1, now=self.start, minutes=9)

    def at(self, minutes: float) -> datetime:
        return self.start + timedelta(minutes=minutes)

    def caustic(self, *, readings: bool = True, ended: bool = True) -> StepRecord:
        """The caustic step from minute 10, with readings by hand and to minute 40."""
        record = self.running_step(self.clean, 2, now=self.at(10))
        if readings:
            self.read(record, "concentration", 2, basis="ww", now=self.at(15))
            self.read(record, "temperature_c", 76, now=self.at(15))
            self.read(record, "flow_l_min", 151, now=self.at(15))
        if ended:
            step_actions.end_step(by=acting(self.hand, now=self.at(40)), record=record)
        return record

    def csv(self, segments: Sequence[tuple[float, ...]] = SEGMENTS) -> str:
        return as_csv(logged(self.start, segments))

    def send(
        self, text: str | bytes | None = None, *, client: Client | None = None, **typed: Any
    ) -> HttpResponse:
        """Send a file; its columns proposed unless ``typed`` says them."""
        name = typed.pop("name", "invented.csv")
        return (client or self.client).post(
            reverse("turnarounds:logger_files", args=[self.clean.pk]),
            {"file": uploaded(self.csv() if text is None else text, name), **typed},
        )

    def logger_file(self, text: str | None = None, *, checked: bool = True) -> LoggerFile:
        """A file that was sent, and whose columns somebody has looked at."""
        answer = self.send(text)
        assert answer.status_code == 302, answer.context["form"].errors
        logger_file = LoggerFile.objects.latest("pk")
        if checked:
            page = self.client.get(
                reverse("turnarounds:logger_file_columns", args=[logger_file.pk])
            )
            self.post_columns(logger_file, page)
            logger_file.refresh_from_db()
        return logger_file

    def post_columns(
        self, logger_file: LoggerFile, page: HttpResponse, **typed: Any
    ) -> HttpResponse:
        form = page.context["form"]
        shown = {name: form[name].value() for name in form.fields}
        data = {name: "" if value is None else value for name, value in shown.items()} | typed
        return self.client.post(
            reverse("turnarounds:logger_file_columns", args=[logger_file.pk]), data
        )

    def write(
        self, logger_file: LoggerFile, records: Sequence[StepRecord], **typed: Any
    ) -> HttpResponse:
        """Write what the page offers into ``records``."""
        page = self.client.get(reverse("turnarounds:logger_file", args=[logger_file.pk]))
        return self.client.post(
            reverse("turnarounds:write_logger_file", args=[logger_file.pk]),
            {
                "seen": page.context["screen"].seen,
                "records": [record.pk for record in records],
                **typed,
            },
        )


def cards_of(scene: Logged, logger_file: LoggerFile) -> dict[int, StepCard]:
    page = scene.client.get(reverse("turnarounds:logger_file", args=[logger_file.pk]))
    return {card.evidence.attempt.step.order: card for card in page.context["screen"].cards}


def place(scene: Logged, logger_file: LoggerFile, **typed: object) -> object:
    page = scene.client.get(reverse("turnarounds:logger_file", args=[logger_file.pk]))
    form = page.context["placing"]
    shown = {}
    for name in form.fields:
        value = form[name].value()
        shown[name] = f"{value:%Y-%m-%dT%H:%M}" if hasattr(value, "tzinfo") else value or ""
    return scene.client.post(
        reverse("turnarounds:place_logger_file", args=[logger_file.pk]), shown | typed
    )
