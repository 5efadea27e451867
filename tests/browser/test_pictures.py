"""README's pictures are there, and small enough to be read over a slow line."""

import re

from PIL import Image

from tests.browser.pictures import FOLDER, MOST_BYTES, ROOT


def test_readme_shows_every_picture_that_was_taken_and_no_other() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = set(re.findall(r"!\[[^\]]+\]\((fixtures/pictures/[^)]+)\)", readme))
    taken = {str(path.relative_to(ROOT)) for path in FOLDER.iterdir()}
    assert shown == taken


def test_each_picture_is_small() -> None:
    for path in FOLDER.iterdir():
        assert path.stat().st_size <= MOST_BYTES, path.name
        with Image.open(path) as picture:
            assert (picture.format, picture.mode) == ("PNG", "P")
