"""Photographs of what was observed, for the signed-in only."""

from django.http import FileResponse
from django.shortcuts import get_object_or_404

from brewhygiene.cellar.photos.views import kept_by_this_browser, photo_response
from brewhygiene.people.requests import Request
from brewhygiene.turnarounds.models.observations import StepPhoto


@kept_by_this_browser
def step_photo(request: Request, pk: int) -> FileResponse:
    return photo_response(get_object_or_404(StepPhoto, pk=pk).photo.name)
