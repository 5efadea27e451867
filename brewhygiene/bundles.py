"""Static files that come from installed packages, and how the large ones are compressed."""

import functools
import importlib.util
import re
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

import brotli
from django.contrib.staticfiles.finders import BaseFinder
from django.core.files.storage import FileSystemStorage
from django.core.files.storage.base import Storage
from whitenoise.compress import Compressor
from whitenoise.storage import CompressedManifestStaticFilesStorage

LARGE_BYTES = 200_000
# The best quality takes half a minute for a bundle of 5 MB and a second for a font, this one a
# tenth of that; each is sent once to each tablet, within the building.
LARGE_QUALITY = 5


def package_folder(package: str) -> Path:
    """Where an installed package is; raises ``ModuleNotFoundError`` where it is not installed."""
    # Found without importing it, which takes a second for plotly.
    spec = importlib.util.find_spec(package)
    places = spec.submodule_search_locations if spec is not None else None
    if not places:
        raise ModuleNotFoundError(f"{package} is not installed: its files cannot be served.")
    return Path(places[0])


def plotly_bundle() -> Path:
    """Where plotly's bundle is; raises ``ModuleNotFoundError`` where plotly is not installed."""
    return package_folder("plotly") / "package_data" / "plotly.min.js"


def font_folder() -> Path:
    """Where the font's files are; raises ``ModuleNotFoundError`` where it is not installed."""
    return package_folder("font_source_sans_pro") / "files"


@functools.cache
def plotly_style_ids() -> tuple[str, ...]:
    """Names of the ``<style>`` elements that the bundle adds to a page, unless they are there.

    The policy forbids them. plotly's own goes by its documented name and class; a map's, which
    no chart of ours draws, by a name that changes with the version and so is looked up.
    """
    bundle = plotly_bundle().read_text(encoding="utf-8")
    return tuple(sorted(set(re.findall(r'getElementById\("([0-9a-f]{64})"\)', bundle))))


class PackageFinder(BaseFinder):
    """Some files of an installed package, as ``PREFIX/NAME``, and nothing else that it holds."""

    prefix: str
    names: tuple[str, ...]
    folder: Callable[[], Path]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        self.storage = FileSystemStorage(location=type(self).folder())
        self.storage.prefix = self.prefix  # type: ignore[attr-defined]

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Any:
        prefix, _, name = path.partition("/")
        if prefix != self.prefix or name not in self.names:
            return []
        found = self.storage.path(name)
        return [found] if find_all else found

    def list(self, ignore_patterns: Iterable[str] | None) -> Iterator[tuple[str, Storage]]:
        for name in self.names:
            yield name, self.storage


class PlotlyFinder(PackageFinder):
    """plotly's bundle, as ``plotly/plotly.min.js``."""

    prefix = "plotly"
    names = ("plotly.min.js",)
    folder = staticmethod(lambda: plotly_bundle().parent)


class FontFinder(PackageFinder):
    """The two weights of the pages' font and its licence, as ``fonts/...``.

    Source Sans Pro, under the SIL Open Font License 1.1, whose text has to go with it.
    """

    prefix = "fonts"
    names = ("SourceSansPro-Regular.ttf", "SourceSansPro-Semibold.ttf", "LICENSE.txt")
    folder = staticmethod(font_folder)


class QuickCompressor(Compressor):
    """Compresses small files as far as they go, and large ones within a second."""

    @staticmethod
    def compress_brotli(data: bytes) -> bytes:
        quality = LARGE_QUALITY if len(data) > LARGE_BYTES else 11
        packed: bytes = brotli.compress(data, quality=quality)
        return packed


class HashedStorage(CompressedManifestStaticFilesStorage):
    """Static files named by their content, cached without limit and compressed once."""

    def create_compressor(self, **kwargs: Any) -> Compressor:
        return QuickCompressor(**kwargs)
