"""Two-dimensional codes, as SVG that stands in the page itself."""

from django.utils.safestring import SafeString, mark_safe


def qr_svg(text: str, *, error: str = "m") -> SafeString:
    """A QR code of ``text``; ``error`` is how much of it may be lost: l, m, q or h."""
    import segno  # only when paper is asked for

    code = segno.make(text, error=error, micro=False, boost_error=False)
    return mark_safe(code.svg_inline(border=4, omitsize=True, svgclass="qr", lineclass=None))  # noqa: S308 - drawn by ourselves: no character of the text is in it
