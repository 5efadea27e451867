"""Static files that come from installed packages."""

import re
from pathlib import Path

import brotli
import pytest
from django.contrib.staticfiles import finders
from django.core.files.storage import FileSystemStorage
from fontTools.ttLib import TTFont

from brewhygiene.bundles import (
    LARGE_BYTES,
    FontFinder,
    PlotlyFinder,
    QuickCompressor,
    font_folder,
    package_folder,
    plotly_bundle,
    plotly_style_ids,
)


def test_bundle_is_found_by_its_address() -> None:
    assert finders.find("plotly/plotly.min.js") == str(plotly_bundle())
    assert finders.find("plotly/plotly.min.js", find_all=True) == [str(plotly_bundle())]


def test_nothing_else_of_the_package_is_served() -> None:
    assert [name for name, _ in PlotlyFinder().list(None)] == ["plotly.min.js"]
    assert finders.find("plotly/widgetbundle.js") is None
    assert finders.find("plotly/../plotly.min.js") is None


def test_bundle_is_collected_under_its_prefix() -> None:
    ((name, storage),) = PlotlyFinder().list(None)
    assert isinstance(storage, FileSystemStorage)
    assert (storage.prefix, Path(storage.path(name))) == ("plotly", plotly_bundle())


FONT_FILES = ["SourceSansPro-Regular.ttf", "SourceSansPro-Semibold.ttf", "LICENSE.txt"]


def test_font_comes_with_its_licence_and_nothing_else() -> None:
    assert [name for name, _ in FontFinder().list(None)] == FONT_FILES
    for name in FONT_FILES:
        assert finders.find(f"fonts/{name}") == str(font_folder() / name)
    assert finders.find("fonts/SourceSansPro-Black.ttf") is None
    licence = (font_folder() / "LICENSE.txt").read_text(encoding="utf-8")
    assert "SIL OPEN FONT LICENSE Version 1.1" in licence


def test_font_has_the_letters_and_even_figures_of_the_pages() -> None:
    for name in FONT_FILES[:2]:
        with TTFont(font_folder() / name) as font:
            letters, widths = font.getBestCmap(), font["hmtx"]
            assert {
                sign for sign in "0123456789°²³µ×−–·→‹›≠≤≥±½" if ord(sign) not in letters
            } == set()
            assert len({widths[letters[ord(sign)]][0] for sign in "0123456789"}) == 1


def test_styles_ask_for_the_font_where_it_is_served() -> None:
    tokens = finders.find("brewhygiene/tokens.css")
    asked = re.findall(
        r'url\("\.\./fonts/([^"]+)"\)', Path(str(tokens)).read_text(encoding="utf-8")
    )
    assert asked == FONT_FILES[:2]


def test_package_that_is_missing_is_named() -> None:
    with pytest.raises(ModuleNotFoundError, match="no_such_font is not installed"):
        package_folder("no_such_font")


def test_every_style_that_the_bundle_would_add_is_named() -> None:
    """Each stands behind a look for its name; plotly's own behind its documented one."""
    bundle = plotly_bundle().read_text(encoding="utf-8")
    made = len(re.findall(r'createElement\("style"\)', bundle))
    assert made == len(plotly_style_ids()) + 1
    assert "plotly.js-style-" in bundle
    assert ".no-inline-styles" in bundle


def test_large_file_is_compressed_quickly_and_whole() -> None:
    data = bytes(range(256)) * (LARGE_BYTES // 128)
    packed = QuickCompressor.compress_brotli(data)
    assert brotli.decompress(packed) == data
    assert len(packed) < len(data) / 10


def test_small_file_is_compressed_as_far_as_it_goes() -> None:
    data = b"body { margin: 0; }" * 50
    assert QuickCompressor.compress_brotli(data) == brotli.compress(data)
