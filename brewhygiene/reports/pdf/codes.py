"""Two-dimensional codes, as SVG that stands in the page itself."""

from django.utils.safestring import SafeString, mark_safe


def qr_svg(text: str, *, error: str = "m", light: str | None = None) -> SafeString:
    """A QR code of ``text``; ``error`` is how much of it may be lost: l, m, q or h.

    ``light`` is the colour of its ground, where the page's own may be dark.
    """
    import segno  # only when paper is asked for

    code = segno.make(text, error=error, micro=False, boost_error=False)
    svg = code.svg_inline(border=4, omitsize=True, svgclass="qr", lineclass=None, light=light)
    return mark_safe(svg)  # noqa: S308 - drawn by ourselves: no character of the text is in it
