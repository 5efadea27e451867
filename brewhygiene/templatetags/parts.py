"""The parts that every page is put together from, one of each; ``/parts/`` shows all of them.

Load with ``{% load parts %}``. A page is a ``trail``, a ``pagehead`` with its acts, then
``section`` after ``section`` of rows, tables, facts or fields. A part that has something in it is
a block and ends with ``end`` and its name: ``{% notice "warning" %}...{% endnotice %}``.
"""

import dataclasses
import itertools
from collections.abc import Mapping, Sequence
from typing import Any

from django import template
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.text import slugify

from brewhygiene.styles import STYLES

register = template.Library()
# Counted by the process: a fragment that is put into a page must not repeat a name of the page.
_marks = itertools.count(1)

OUTBOX = ("store", "sender", "hand", "forms", "waiting", "carry")
NOTICES = {"note": "", "done": "notice-success", "warning": "notice-warning", "stop": "notice-stop"}


@register.simple_tag
def house_styles() -> SafeString:
    """The styles of every page, in their order; a room's own come after them."""
    return format_html_join(
        "\n",
        '<link rel="stylesheet" href="{}">',
        ((static(f"brewhygiene/{name}.css"),) for name in STYLES),
    )


@register.simple_tag
def house_outbox() -> SafeString:
    """The scripts that keep what is typed until the server has it, in their order."""
    return format_html_join(
        "\n",
        '<script src="{}" defer></script>',
        ((static(f"brewhygiene/outbox/{name}.js"),) for name in OUTBOX),
    )


# --- Finding the way ---


@dataclasses.dataclass(frozen=True)
class Place:
    """A destination of the bar or the menu; ``counted`` where something can wait there."""

    room: str
    title: str
    address: str
    counted: bool = False

    @property
    def url(self) -> str:
        return reverse(self.address)


@dataclasses.dataclass(frozen=True)
class Places:
    """What is always in sight, and what is in the menu with the person."""

    bar: Sequence[Place]
    menu: Sequence[Place]


BOARD = Place("board", "Board", "board:board")
SAMPLE = Place("sample", "Sample", "board:to_sample", counted=True)
METERS = Place("atp", "Meters", "atp:meters", counted=True)
RELEASE = Place("release", "Release", "release:queue", counted=True)
PLATES = Place("plates", "Plates", "plates:due", counted=True)
TRENDS = Place("trends", "Trends", "trends:overview")
BATCHES = Place("batches", "Batches", "batches:batches")
BENCH = Place("bench", "Tools", "bench:index")
SETUP = Place("setup", "Set-up", "setup:index")
EVERY = (BOARD, SAMPLE, METERS, RELEASE, PLATES, BATCHES, TRENDS, BENCH, SETUP)
# Pages of a room that lead on to pages of their own.
LISTS = {
    "meters": ("Meters", "atp:setup_meters"),
    "atp-tests": ("ATP tests", "atp:setup_atp_tests"),
    "limits": ("Limits", "atp:setup_limits"),
    "baselines": ("Baselines", "atp:baselines"),
    "bridges": ("Bridge studies", "atp:bridges"),
    "ledger": ("Ledger", "proof:entries"),
    "crops": ("Yeast crops", "batches:crops"),
    "packaged-lots": ("Lots", "batches:lots"),
    "vessels": ("Vessels", "cellar:vessels"),
    "beers": ("Beers", "cellar:beers"),
    "changeovers": ("Allergen changeovers", "changeovers:validations"),
    "skids": ("Skids and solutions", "skids:skids"),
    "agents": ("Agents", "regimes:agents"),
    "regimes": ("Regimes", "regimes:regimes"),
    "people": ("People", "people:list"),
    "tablets": ("Tablets", "people:tablets"),
}


@register.simple_tag
def places(can: Mapping[str, bool]) -> Places:
    """Where somebody with these permissions usually goes, and in the menu all else."""
    bar: tuple[Place, ...]
    if can.get("decide_release"):
        bar = (BOARD, SAMPLE, RELEASE, PLATES, METERS, TRENDS)
    elif can.get("see_everything"):
        bar = (TRENDS, BOARD, RELEASE, PLATES)
    else:
        bar = (BOARD, SAMPLE, METERS)
    return Places(bar=bar, menu=tuple(place for place in EVERY if place not in bar))


@register.inclusion_tag("parts/trail.html")
def trail(
    room: str = "",
    vessel: Any = None,
    turnaround: Any = None,
    clean: Any = None,
    here: str = "",
    lists: str = "",
    record: Any = None,
    record_url: str = "",
) -> dict[str, Any]:
    """Where a page is: room / vessel / turnaround / clean / step, each but the last a link.

    ``room`` is a code of the bar (``board``, ``sample``, ``atp``, ``release``, ``plates``,
    ``batches``, ``trends``, ``bench``, ``setup``); ``here`` the words for this very page. A
    turnaround brings its vessel with it, and a clean its turnaround. ``lists`` are codes of
    ``LISTS``, parted by spaces, and ``record`` is what a page of ``record_url`` is about.
    """
    turnaround = turnaround or (clean.turnaround if clean else None)
    vessel = vessel or (turnaround.vessel if turnaround else None)
    steps: list[tuple[str, str]] = []
    if room:
        place = next(place for place in EVERY if place.room == room)
        steps.append((place.title, place.url))
    for code in lists.split():
        title, address = LISTS[code]
        steps.append((title, reverse(address)))
    if vessel:
        steps.append((vessel.name, reverse("board:vessel", args=[vessel.pk])))
    if turnaround:
        steps.append(("Turnaround", reverse("board:turnaround", args=[turnaround.pk])))
    if clean:
        steps.append((clean.version.regime.name, reverse("turnarounds:clean", args=[clean.pk])))
    if record:
        steps.append((str(record), record_url))
    return {"steps": steps, "here": here}


# --- Page ---


@register.simple_block_tag
def pagehead(
    content: str,
    title: str,
    about: str = "",
    status: str = "",
    label: str = "",
    kind: str = "status",
) -> str:
    """The page's one ``<h1>`` and its status; inside it the primary act, then the quiet ones."""
    return _drawn(
        "page_head",
        title=title,
        about=about,
        status=status,
        label=label,
        kind=kind,
        content=content,
    )


@register.simple_block_tag
def section(content: str, title: str, name: str = "", count: Any = None, level: int = 2) -> str:
    """A named stretch of a page; ``name`` is its anchor, else made of its title."""
    return _drawn(
        "section",
        title=title,
        name=name or slugify(title),
        count=count,
        level=level,
        content=content,
    )


@register.simple_block_tag
def listrow(
    content: str, title: str, url: str = "", status: str = "", label: str = "", kind: str = "status"
) -> str:
    """A row of ``<ul class="list">``: a title that leads on, a status; facts and an act inside."""
    return _drawn(
        "list_row", title=title, url=url, status=status, label=label, kind=kind, content=content
    )


@register.simple_block_tag
def datatable(content: str, label: str, look: str = "compact") -> str:
    """A table in a box that scrolls by itself; ``label`` says to a screen reader what it holds.

    ``look``: ``compact`` (a list on a phone), ``stacked`` (a sheet a row), or '' (scrolls).
    """
    return _drawn("data_table", label=label, look=look, content=content)


@register.simple_block_tag
def figurecard(
    content: str,
    title: str,
    value: Any,
    unit: str = "",
    change: str = "",
    line: Sequence[float | None] = (),
) -> str:
    """A figure: its value, how it changed, a small line of its past; inside, the link on."""
    return _drawn(
        "figure_card",
        title=title,
        value=value,
        unit=unit,
        change=change,
        points=sparkline_points(line),
        content=content,
    )


def sparkline_points(values: Sequence[float | None]) -> list[str]:
    """Lines through the values in a box of 100 by 30; a missing one leaves a gap.

    >>> sparkline_points([1, 3, None, 2])
    ['0.0,30.0 33.3,0.0', '100.0,15.0']
    """
    known = [value for value in values if value is not None]
    if len(known) < 2:
        return []
    low, span = min(known), (max(known) - min(known)) or 1
    runs: list[list[str]] = [[]]
    for place, value in enumerate(values):
        if value is None:
            runs.append([])
            continue
        across, up = 100 * place / (len(values) - 1), 30 - 30 * (value - low) / span
        runs[-1].append(f"{across:.1f},{up:.1f}")
    return [" ".join(run) for run in runs if run]


@register.simple_block_tag
def signpanel(content: str, title: str, name: str = "sign") -> str:
    """Where something is signed, always in sight; stands in ``<div class="signed-page">``."""
    return _drawn("sign_panel", title=title, name=name, content=content)


@register.simple_block_tag
def emptystate(content: str, title: str) -> str:
    """What a page says where there is nothing yet, with the act that changes it."""
    return _drawn("empty_state", title=title, content=content)


# --- Choosing, and telling ---


@register.simple_block_tag
def tabs(content: str, label: str) -> str:
    """A row of ``{% tab %}``: ways to see the same thing."""
    return format_html('<nav class="tabs" aria-label="{}">{}</nav>', label, content)


@register.simple_tag
def tab(title: str, url: str, current: bool = False) -> SafeString:
    return _link(title, url, current=current)


@register.simple_block_tag
def chips(content: str, label: str) -> str:
    """A row of ``{% chip %}``: filters."""
    return format_html('<nav aria-label="{}"><ul class="chips">{}</ul></nav>', label, content)


@register.inclusion_tag("parts/chip.html")
def chip(
    title: str, url: str, current: bool = False, count: Any = None, status: str = ""
) -> dict[str, Any]:
    return {"title": title, "url": url, "current": current, "count": count, "status": status}


@register.simple_block_tag
def disclosure(content: str, summary: str, is_open: bool = False) -> str:
    """What is folded away under its own words."""
    return format_html(
        '<details class="disclosure"{}><summary>{}</summary>{}</details>',
        SafeString(" open") if is_open else "",
        summary,
        content,
    )


@register.simple_block_tag
def notice(content: str, kind: str = "note", title: str = "") -> str:
    """``note``, ``done``, ``warning`` or ``stop``; ``KeyError`` for another word."""
    heading = format_html("<h2>{}</h2>", title) if title else ""
    return format_html(
        '<div class="notice {}"{}>{}{}</div>',
        NOTICES[kind],
        SafeString(' role="alert"') if kind == "stop" else "",
        heading,
        content,
    )


@register.simple_tag
def source(words: str, about: str = "") -> SafeString:
    """The mark beside a figure that tells where it comes from; ``about`` names the figure.

    It may stand in a sentence, a heading, a cell or a ``<dt>``, and needs no script.
    """
    return format_html(
        '<button type="button" class="source" popovertarget="source-{0}" aria-label="Source{1}">'
        '</button><span class="source-words" popover id="source-{0}">{2}</span>',
        next(_marks),
        f" of {about}" if about else "",
        words,
    )


def _link(title: str, url: str, *, current: bool) -> SafeString:
    mark = SafeString(' aria-current="page"') if current else ""
    return format_html('<a href="{}"{}>{}</a>', url, mark, title)


def _drawn(part: str, /, **shown: Any) -> str:
    return render_to_string(f"parts/{part}.html", shown)
