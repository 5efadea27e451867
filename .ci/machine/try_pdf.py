"""Draw one line into a PDF, and say in plain words what this machine lacks if it cannot be."""

import ctypes
import sys
import warnings

# What WeasyPrint loads, by the names that Linux and macOS give it.
LIBRARIES = {
    "GLib": ("libgobject-2.0.so.0", "libgobject-2.0.0.dylib"),
    "Pango": ("libpango-1.0.so.0", "libpango-1.0.dylib"),
    "Pango's FreeType part": ("libpangoft2-1.0.so.0", "libpangoft2-1.0.dylib"),
    "HarfBuzz": ("libharfbuzz.so.0", "libharfbuzz.0.dylib"),
    "HarfBuzz's subsetter": ("libharfbuzz-subset.so.0", "libharfbuzz-subset.0.dylib"),
    "Fontconfig": ("libfontconfig.so.1", "libfontconfig.1.dylib"),
}
OLDEST_PANGO = (1, 44, 0)


def loads(file_name: str) -> bool:
    try:
        ctypes.CDLL(file_name)
    except OSError:
        return False
    return True


def missing_libraries() -> list[str]:
    """Those that the machine's loader does not find."""
    return [
        f"{name} ({file_names[0]})"
        for name, file_names in LIBRARIES.items()
        if not any(loads(file_name) for file_name in file_names)
    ]


def trouble() -> str | None:
    """What keeps this machine from drawing PDFs, or ``None``."""
    if missing := missing_libraries():
        return f"Missing for PDFs: {', '.join(missing)}."
    with warnings.catch_warnings():
        # Without a font it only warns, while it is imported, and crashes when it draws.
        warnings.simplefilter("error", UserWarning)
        try:
            import weasyprint
            from weasyprint.text.ffi import pango
        except UserWarning as warning:
            return f"Missing for PDFs: a font, such as DejaVu Sans ({warning})"
        except OSError as error:
            return f"Missing for PDFs: {error}"
    number = pango.pango_version()
    version = (number // 10000, number // 100 % 100, number % 100)
    if version < OLDEST_PANGO:
        found, needed = (".".join(map(str, v)) for v in (version, OLDEST_PANGO))
        return f"Pango is too old for PDFs: {found}, and {needed} or later is needed."
    weasyprint.HTML(string="<p>Vessel</p>").write_pdf()
    return None


if __name__ == "__main__":
    sys.exit(trouble())
