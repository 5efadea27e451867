"""Time the reading of a year's logger file: ``python -m tests.bench.logger_files``.

Writes an invented logger file of ``--rows`` rows (10 million, about 390 MB) to a folder of its
own, reads and evaluates it in a process of its own, and prints seconds and that process's peak
memory; then times the computations that take arrays. ``--comma`` writes decimal commas,
``--keep FILE`` leaves the file.
"""

import argparse
import datetime as dt
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

BATCH = 1_000_000


def write(path: Path, *, rows: int, comma: bool) -> None:
    """An invented trace of ``rows`` rows: a clean every eight hours, noise, a gap each day."""
    import polars as pl

    chance = np.random.default_rng(20260310)
    start = int(dt.datetime(2025, 1, 1, tzinfo=dt.UTC).timestamp())
    with path.open("wb") as file:
        file.write("Time;Return temp (°C);Flow (hL/h);Conductivity (mS/cm)\n".encode())
        for first in range(0, rows, BATCH):
            seconds = np.arange(first, min(first + BATCH, rows)) * 3
            in_clean = seconds % 28_800
            hot = (in_clean > 900) & (in_clean < 3600)
            size = len(seconds)
            table = pl.DataFrame(
                {
                    "time": pl.Series((start + seconds) * 1000).cast(pl.Datetime("ms")),
                    "temperature": np.round(np.where(hot, 75, 15) + chance.normal(0, 1, size), 2),
                    "flow": np.round(np.where(in_clean < 5400, 120, 0) + chance.random(size), 1),
                    "conductivity": np.round(np.where(hot, 180, 0.5) * chance.random(size), 2),
                }
            ).filter(pl.Series(seconds % 86_400 > 600))
            text = table.write_csv(
                include_header=False, separator=";", datetime_format="%Y-%m-%d %H:%M:%S"
            )
            file.write((text.replace(".", ",") if comma else text).encode())


def peak_mib() -> float:
    """The most memory that this process has held so far, MiB."""
    status = Path("/proc/self/status")
    if status.exists():
        # Not getrusage: on Linux that begins with what the parent held when it started us.
        line = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM"))
        return int(line.split()[1]) / 1024
    usage = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return usage / (1024 * 1024 if sys.platform == "darwin" else 1024)


def evaluate_here(path: Path) -> None:
    """Read and evaluate the file in this process, and print what it took."""
    from brewhygiene.science.logger.evaluating import RinseRule, evaluate
    from brewhygiene.science.logger.mapping import propose
    from brewhygiene.science.logger.reading import LoggerFileReader, sniff_file
    from brewhygiene.science.logger.windows import Bound, Window
    from brewhygiene.science.tank.lethality import A0, PASTEURISATION

    began, worked = time.perf_counter(), time.process_time()
    dialect = sniff_file(path)
    reader = LoggerFileReader(path, mapping=propose(dialect).mapping, dialect=dialect)
    found = evaluate(
        reader,
        windows=[
            Window("hot", (Bound("temperature_c", 70, 85),)),
            Window("caustic", (Bound("temperature_c", 70, 85), Bound("flow_l_min", 150, None))),
        ],
        references=(PASTEURISATION, A0),
        rinse=RinseRule(end_ms_cm=1.0),
    )
    seconds, busy = time.perf_counter() - began, time.process_time() - worked
    print(
        f"{found.tally.kept} rows, {path.stat().st_size / 1e6:.0f} MB: {seconds:.1f} s "
        f"({busy:.1f} s of processor), at most {peak_mib():.0f} MiB of memory; "
        f"{found.windows[0].minutes_inside:.0f} min hot, {found.tally.rows / seconds / 1e6:.1f} "
        "million rows a second"
    )


def time_functions() -> None:
    """Time the computations that take arrays, and print a line for each."""
    from brewhygiene.science.tank.flow import friction_factor, velocity_m_s
    from brewhygiene.science.tank.lethality import lethal_rate, lethality
    from brewhygiene.science.tank.water import saturation_pressure_kpa

    many, some = np.linspace(10, 95, 1_000_000), np.linspace(10, 95, 20_000)
    seconds = np.arange(len(many), dtype=float)
    for name, size, call in (
        ("lethality", many.size, lambda: lethality(seconds=seconds, temperatures_c=many)),
        ("lethal rate", many.size, lambda: lethal_rate(temperature_c=many)),
        ("velocity", many.size, lambda: velocity_m_s(flow_l_min=many, bore_mm=many)),
        ("vapour pressure", some.size, lambda: saturation_pressure_kpa(temperature_c=some)),
        ("friction factor", some.size, lambda: friction_factor(reynolds=some * 1000)),
    ):
        call()
        began = time.perf_counter()
        call()
        taken = time.perf_counter() - began
        print(f"{name} of {size} points: {taken * 1000:.0f} ms, {taken / size * 1e9:.0f} ns each")


def main() -> None:
    """Write, measure in a fresh process, and clear away."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--rows", type=int, default=10_000_000)
    ask.add_argument("--comma", action="store_true")
    ask.add_argument("--keep", type=Path)
    ask.add_argument("--read", type=Path, help=argparse.SUPPRESS)
    given = ask.parse_args()
    if given.read:
        evaluate_here(given.read)
        return
    with tempfile.TemporaryDirectory() as folder:
        path = given.keep or Path(folder) / "trace.csv"
        write(path, rows=given.rows, comma=given.comma)
        command = [sys.executable, "-m", "tests.bench.logger_files", "--read", str(path)]
        subprocess.run(command, check=True)
    time_functions()


if __name__ == "__main__":
    main()
