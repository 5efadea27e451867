"""A PDF as the answer to a request."""

from django.http import HttpResponse


def pdf_response(content: bytes, *, name: str) -> HttpResponse:
    return HttpResponse(
        content,
        content_type="application/pdf",
        headers={
            "Content-Disposition": f'inline; filename="{name}"',
            # It is drawn from the record as it stands: nobody keeps yesterday's.
            "Cache-Control": "private, no-cache",
        },
    )
