"""The words of a PDF, as somebody reads them."""

import html
import io
import re

import pypdf


def text_of(pdf: bytes) -> str:
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))


def page_texts(pdf: bytes) -> list[str]:
    return [
        re.sub(r"\s+", " ", page.extract_text()) for page in pypdf.PdfReader(io.BytesIO(pdf)).pages
    ]


def words_of(page: str) -> str:
    """The words of the page that a PDF is drawn from: quicker, where the drawing is not tested."""
    body = re.sub(r"<(head|svg)\b.*?</\1>", " ", page, flags=re.DOTALL)
    inline = re.sub(r"</?(span|b|strong)\b[^>]*>", "", body)
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", inline)))
