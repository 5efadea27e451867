"""Many pictures on one sheet, each with its name, to be seen at a glance."""

from collections.abc import Sequence
from pathlib import Path

from PIL import Image, ImageDraw

ACROSS, WIDTH, HEIGHT, GAP, LABEL = 6, 320, 480, 12, 18


def contact_sheet(pictures: Sequence[Path], path: Path) -> Path:
    """The tops of pictures, ``ACROSS`` a row."""
    rows = -(-len(pictures) // ACROSS)
    across = min(ACROSS, len(pictures))
    step = (WIDTH + GAP, HEIGHT + GAP + LABEL)
    sheet = Image.new("RGB", (GAP + across * step[0], GAP + rows * step[1]), "#888")
    draw = ImageDraw.Draw(sheet)
    for number, picture in enumerate(pictures):
        left, top = GAP + number % ACROSS * step[0], GAP + number // ACROSS * step[1]
        draw.text((left, top), picture.stem, fill="#fff")
        with Image.open(picture) as opened:
            small = opened.convert("RGB")
        small.thumbnail((WIDTH, 100_000))
        sheet.paste(small.crop((0, 0, small.width, min(HEIGHT, small.height))), (left, top + LABEL))
    sheet.save(path)
    return path
