"""Photographs, for the signed-in only: none of them lies among the static files."""

from django.core.files.storage import default_storage
from django.http import FileResponse, Http404
from django.shortcuts import get_object_or_404
from django.views.decorators.cache import cache_control

from brewhygiene.cellar.models import SamplingPoint, Vessel
from brewhygiene.cellar.photos.files import CONTENT_TYPE
from brewhygiene.people.requests import Request

# Addresses carry the file's name, which is another for each photo.
kept_by_this_browser = cache_control(private=True, max_age=60 * 60 * 24 * 30)


def photo_response(name: str | None) -> FileResponse:
    if not name or not default_storage.exists(name):
        raise Http404("There is no photo.")
    return FileResponse(default_storage.open(name), content_type=CONTENT_TYPE)


@kept_by_this_browser
def vessel_photo(request: Request, pk: int) -> FileResponse:
    return photo_response(get_object_or_404(Vessel, pk=pk).photo.name)


@kept_by_this_browser
def point_photo(request: Request, pk: int) -> FileResponse:
    return photo_response(get_object_or_404(SamplingPoint, pk=pk).photo.name)
