"""An invented logger's file of a clean that was run: what its probes showed, every ten seconds."""

import dataclasses
import io
import random
from datetime import UTC, datetime, timedelta

from brewhygiene.brewery.models import Brewery
from brewhygiene.demo.stage import Stage
from brewhygiene.people.models import User
from brewhygiene.regimes.models import Quantity, StepKind
from brewhygiene.science.logger.reading import sniff_file
from brewhygiene.turnarounds.logger.actions import upload_logger_file
from brewhygiene.turnarounds.logger.intake import find_columns, read_file
from brewhygiene.turnarounds.models import Clean, LoggerFile, StepRecord
from brewhygiene.turnarounds.queries import cleans_with_records

EVERY_S = 10
COLD_C, TAP_MS_CM = 12.0, 0.6
# By step kind, where no reading says it: return temperature °C, flow L/min, conductivity mS/cm.
SHOWN: dict[str, tuple[float, float, float]] = {
    StepKind.PRE_RINSE: (18, 130, 0.7),
    StepKind.CAUSTIC: (74, 145, 98),
    StepKind.ACID: (26, 140, 11),
    StepKind.RINSE: (13, 130, 0.6),
    StepKind.SANITISER: (14, 120, 1.1),
}
IDLE = (COLD_C, 0.0, TAP_MS_CM)


@dataclasses.dataclass
class _Probes:
    """Each follows what is in the pipe with the delay of its mass."""

    temperature_c: float = COLD_C
    flow_l_min: float = 0.0
    conductivity_ms_cm: float = TAP_MS_CM

    def follow(self, target: tuple[float, float, float]) -> None:
        temperature_c, flow_l_min, conductivity_ms_cm = target
        self.temperature_c += (temperature_c - self.temperature_c) * 0.12
        self.flow_l_min += (flow_l_min - self.flow_l_min) * 0.5
        self.conductivity_ms_cm += (conductivity_ms_cm - self.conductivity_ms_cm) * 0.2


def send_file(stage: Stage, clean: Clean, *, who: User) -> LoggerFile:
    """Keep the file of a clean beside it, its columns looked at, through the verb."""
    loaded = cleans_with_records().get(pk=clean.pk)
    assert loaded.finished_at is not None
    file = io.BytesIO(_written(loaded, stage.chance).encode())
    dialect = sniff_file(file)
    columns = dataclasses.replace(
        find_columns(dialect, ()), remembered_as="Circuit logger", remember=True, checked=True
    )
    read = read_file(
        file,
        name=f"circuit-{loaded.finished_at.astimezone(stage.zone):%Y%m%d-%H%M}.csv",
        clean=loaded,
        brewery=Brewery.current(),
        now=stage.moment,
        columns=columns,
        dialect=dialect,
    )
    return upload_logger_file(by=stage.by(who), clean=loaded, read=read)


def _written(clean: Clean, chance: random.Random) -> str:
    records = list(clean.step_records.all())
    begins = records[0].started_at - timedelta(minutes=2)
    assert clean.finished_at is not None
    probes, lines = _Probes(), ["Time,Return temperature °C,Flow L/min,Conductivity mS/cm"]
    rows = int((clean.finished_at - begins).total_seconds()) // EVERY_S
    for number in range(rows):
        moment = begins + timedelta(seconds=EVERY_S * number)
        probes.follow(_in_the_pipe(records, moment))
        lines.append(
            f"{moment.astimezone(UTC):%Y-%m-%d %H:%M:%S}+00:00,"
            f"{probes.temperature_c + chance.gauss(0, 0.2):.1f},"
            f"{max(0.0, probes.flow_l_min + chance.gauss(0, 1)):.0f},"
            f"{max(0.0, probes.conductivity_ms_cm * chance.gauss(1, 0.01)):.2f}"
        )
    return "\n".join(lines) + "\n"


def _in_the_pipe(records: list[StepRecord], moment: datetime) -> tuple[float, float, float]:
    for record in records:
        if record.started_at <= moment < (record.ended_at or moment) and not record.left_out:
            usual = SHOWN.get(record.step.kind, IDLE)
            read = {reading.quantity: reading.value for reading in record.readings.all()}
            return read.get(Quantity.TEMPERATURE_C, usual[0]), usual[1], usual[2]
    return IDLE
