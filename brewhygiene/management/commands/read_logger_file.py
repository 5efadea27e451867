"""Read a clean's logger file of any size and print the results; nothing is stored."""

import json
from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from brewhygiene.quantities.parsing import NotANumber, parse_number
from brewhygiene.regimes.models import Basis, Quantity, RegimeVersion
from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.logger.evaluating import MAX_GAP_S, Evaluation, RinseRule, evaluate
from brewhygiene.science.logger.mapping import MappedColumn, Mapping, from_json, propose
from brewhygiene.science.logger.problems import LoggerFileUnreadable
from brewhygiene.science.logger.reading import LoggerFileReader, sniff_file
from brewhygiene.science.logger.units import QUANTITIES
from brewhygiene.science.logger.windows import Bound, Window, WindowResult
from brewhygiene.science.tank.lethality import A0, PASTEURISATION

BAR_CELLS = 30


class Command(BaseCommand):
    help = (
        "Read a logger file (CSV of any separator, encoding and time format) and print minutes "
        "inside windows, gaps, lethality, rinse ends and phases. Nothing is stored."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--map", action="append", default=[], metavar="QUANTITY=COLUMN[=UNIT]",
            help=f"a column to read, as one of {', '.join(QUANTITIES)} (default: by its name)",
        )  # fmt: skip
        parser.add_argument("--time", nargs="+", metavar="COLUMN", help="column of the time, or "
                            "of the date and of the clock")  # fmt: skip
        parser.add_argument("--time-form", help="the time format, e.g. '%%d.%%m.%%Y %%H:%%M'")
        parser.add_argument("--decimal", choices=[".", ","])
        parser.add_argument("--missing", action="append", metavar="MARK",
                            help="a word that stands for no reading")  # fmt: skip
        parser.add_argument("--mapping", type=Path, help="a saved mapping to use")
        parser.add_argument("--save-mapping", type=Path, help="where to save the mapping used")
        parser.add_argument("--window", action="append", default=[], metavar="QUANTITY=MIN:MAX",
                            help="a window to judge, e.g. temperature_c=60:85, ph=:9")  # fmt: skip
        parser.add_argument("--regime-version", type=int, metavar="ID",
                            help="judge the windows of this regime version's steps")  # fmt: skip
        parser.add_argument("--rinse-end", type=float, metavar="mS/cm",
                            help="conductivity at which a rinse is over")  # fmt: skip
        parser.add_argument("--max-gap", type=float, default=MAX_GAP_S, metavar="SECONDS",
                            help="longest gap to bridge (default %(default)g)")  # fmt: skip

    def handle(self, *args: Any, **options: Any) -> None:
        if not options["file"].is_file():
            raise CommandError(f"There is no file {options['file']}.")
        try:
            found = self._evaluated(options)
        except (LoggerFileUnreadable, OutOfRange, NotANumber) as refused:
            raise CommandError(str(refused)) from refused
        for line in report(found):
            self.stdout.write(line)

    def _evaluated(self, options: dict[str, Any]) -> Evaluation:
        dialect = sniff_file(options["file"])
        if options["mapping"]:
            mapping = read_mapping(options["mapping"])
        else:
            proposal = propose(dialect)
            mapping = proposal.mapping
            if not options["map"]:
                for doubt in proposal.doubts:
                    self.stderr.write(f"Check: {doubt}")
        mapping = with_options(mapping, options)
        windows = [asked_window(text) for text in options["window"]]
        if options["regime_version"] is not None:
            mapped = {each.quantity for each in mapping.columns}
            windows += list(version_windows(options["regime_version"], mapped))
        reader = LoggerFileReader(
            options["file"], mapping=mapping, dialect=dialect, on_progress=self._progress
        )
        found = evaluate(
            reader,
            windows=windows,
            references=(PASTEURISATION, A0),
            rinse=None if options["rinse_end"] is None else RinseRule(options["rinse_end"]),
            max_gap_s=options["max_gap"],
        )
        if options["save_mapping"]:
            text = json.dumps(mapping.as_json(), ensure_ascii=False, indent=1)
            options["save_mapping"].write_text(text + "\n", encoding="utf-8")
        return found

    def _progress(self, done: int, total: int) -> None:
        if not self.stderr.isatty():
            return
        share = min(done / total, 1.0) if total else 1.0
        cells = int(share * BAR_CELLS)
        bar = "#" * cells + "." * (BAR_CELLS - cells)
        end = "\n" if done >= total else ""
        self.stderr.write(f"\r[{bar}] {share:4.0%} of {total / 1e6:.0f} MB", ending=end)
        self.stderr.flush()


def read_mapping(path: Path) -> Mapping:
    """A saved mapping; raises :class:`CommandError` where there is none."""
    try:
        return from_json(json.loads(path.read_text(encoding="utf-8")))
    except (OSError, ValueError) as wrong:
        raise CommandError(f"The mapping {path} cannot be read: {wrong}") from wrong


def with_options(mapping: Mapping, options: dict[str, Any]) -> Mapping:
    """``mapping`` with what was given on the command line in its place."""
    columns = mapping.columns
    if options["map"]:
        columns = tuple(asked_column(text) for text in options["map"])
    return Mapping(
        time_columns=tuple(options["time"] or mapping.time_columns),
        time_form=options["time_form"] or mapping.time_form,
        columns=columns,
        decimal=options["decimal"] or mapping.decimal,
        missing=(*mapping.missing, *(options["missing"] or [])),
    )


def asked_column(text: str) -> MappedColumn:
    """``QUANTITY=COLUMN[=UNIT]`` as a mapped column, in the first unit if none is given."""
    quantity, _, rest = text.partition("=")
    column, _, unit = rest.partition("=")
    if quantity not in QUANTITIES or not column:
        raise CommandError(
            f"“{text}” is not a column to read. Enter QUANTITY=COLUMN or QUANTITY=COLUMN=UNIT, the "
            f"quantity one of {', '.join(QUANTITIES)}."
        )
    return MappedColumn(quantity, column, unit or next(iter(QUANTITIES[quantity].units)))


def asked_window(text: str) -> Window:
    """``QUANTITY=MIN:MAX`` as a window."""
    quantity, _, ends = text.partition("=")
    low, colon, high = ends.partition(":")
    if quantity not in QUANTITIES or not colon or not (low or high):
        raise CommandError(
            f"“{text}” is not a window. Enter QUANTITY=MIN:MAX, e.g. temperature_c=60:85 or "
            "flow_l_min=120: for no maximum."
        )
    minimum = parse_number(low) if low else None
    maximum = parse_number(high) if high else None
    if minimum is not None and maximum is not None and minimum > maximum:
        raise CommandError(f"In “{text}” the minimum is above the maximum.")
    return Window(text, (Bound(quantity, minimum, maximum),))


def version_windows(version_id: int, mapped: set[str]) -> Iterator[Window]:
    """The windows of a regime version's steps whose quantities the file has, by step."""
    version = RegimeVersion.objects.filter(pk=version_id).prefetch_related("steps__windows").first()
    if version is None:
        raise CommandError(f"There is no regime version {version_id}.")
    for step in version.steps.all():
        bounds, least = [], None
        for window in step.windows.all():
            if window.quantity == Quantity.TIME_MIN:
                least = window.minimum
            elif window.quantity == Quantity.CONCENTRATION and window.basis != Basis.WW:
                continue  # a logged strength is % w/w: it is not compared with another basis
            elif window.quantity in mapped:
                bounds.append(Bound(window.quantity, window.minimum, window.maximum))
        if bounds:
            asked = f", at least {least:g} min required" if least is not None else ""
            yield Window(f"{step}{asked}", tuple(bounds))


def report(found: Evaluation) -> Iterator[str]:
    """The evaluation as lines of text."""
    tally = found.tally
    start = f"from {found.start:%Y-%m-%d %H:%M:%S}, " if found.start else ""
    yield f"{tally.kept} rows, {start}{found.duration_s / 60:.1f} min"
    for count, words in (
        (tally.duplicates, "with the time of an earlier row, excluded"),
        (tally.backwards, "with a time before an earlier row's, excluded"),
        (tally.without_time, "without a time, excluded"),
    ):
        if count:
            yield f"  {count} rows {words}"
    for quantity, coverage in found.coverage.items():
        known = QUANTITIES[quantity]
        line = f"{known.label}: {coverage.readings} readings"
        if coverage.extremes:
            least, greatest = coverage.extremes.least, coverage.extremes.greatest
            line += f", {least:.4g} to {greatest:.4g} {known.unit}".rstrip()
        line += f", longest gap {coverage.longest_gap_min:.1f} min"
        if coverage.gap_count:
            line += f", {coverage.gap_count} gaps not bridged"
        yield line
    for result in found.windows:
        yield _window_line(result)
    for lethal in found.lethalities:
        yield f"{lethal.reference.name}: {lethal.value:.1f} {lethal.reference.unit}"
    for run in found.rinse_ends:
        from_min, length = run.from_s / 60, run.length_s / 60
        yield f"rinse complete from minute {from_min:.1f} on, for {length:.1f} min"
    for phase in found.phases:
        means = ", ".join(
            f"{mean:.3g} {QUANTITIES[quantity].unit}" for quantity, mean in phase.means.items()
        )
        yield (
            f"minute {phase.from_s / 60:.1f} to {phase.until_s / 60:.1f}: {phase.kind} ({means})"
        )


def _window_line(result: WindowResult) -> str:
    longest = result.longest_run.length_s / 60 if result.longest_run else 0.0
    return (
        f"{result.window.label}: {result.minutes_inside:.1f} of {result.minutes_known:.1f} min "
        f"inside, longest run {longest:.1f} min, longest gap {result.longest_gap_min:.1f} min"
    )
