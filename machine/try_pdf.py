"""Draw one line into a PDF, and say in plain words what this machine lacks if it cannot be."""

import re
import sys

# Which library does what, by a piece of the name that the loader complains about.
LIBRARIES = {
    "gobject": "GLib (libgobject-2.0)",
    "pangoft2": "Pango's FreeType part (libpangoft2-1.0)",
    "pango": "Pango (libpango-1.0)",
    "harfbuzz-subset": "HarfBuzz's subsetter (libharfbuzz-subset)",
    "harfbuzz": "HarfBuzz (libharfbuzz)",
    "fontconfig": "Fontconfig (libfontconfig)",
}
OLDEST_PANGO = (1, 44, 0)


def missing_library(error: OSError) -> str:
    """The library in words, from the loader's complaint."""
    for piece, words in LIBRARIES.items():
        if piece in str(error):
            return words
    return str(error)


def trouble() -> str | None:
    """What keeps this machine from drawing PDFs, or ``None``."""
    try:
        import weasyprint
        from weasyprint.text.ffi import pango
    except OSError as error:
        return f"Missing for PDFs: {missing_library(error)}."
    number = pango.pango_version()
    version = (number // 10000, number // 100 % 100, number % 100)
    if version < OLDEST_PANGO:
        found, needed = (".".join(map(str, v)) for v in (version, OLDEST_PANGO))
        return f"Pango is too old for PDFs: {found}, and {needed} or later is needed."
    pdf = weasyprint.HTML(string="<p>Vessel</p>").write_pdf(uncompressed_pdf=True)
    if not re.search(rb"/FontFile[23]?\b", pdf):
        return "Missing for PDFs: a font (for example DejaVu Sans)."
    return None


if __name__ == "__main__":
    sys.exit(trouble())
