"""The site with one page more, which shows the invented figures."""

from django.http import HttpRequest, HttpResponse
from django.template import engines
from django.urls import include, path

from tests.drawing.gallery import gallery

PAGE = """{% extends "base.html" %}{% load charts %}
{% block title %}Figures{% endblock %}
{% block styles %}{% chart_styles %}{% endblock %}
{% block scripts %}{% chart_scripts %}{% endblock %}
{% block main %}<h1>Figures</h1>{% for each in figures %}{% figure each %}{% endfor %}{% endblock %}
"""


def page(request: HttpRequest) -> HttpResponse:
    template = engines["django"].from_string(PAGE)
    return HttpResponse(template.render({"figures": gallery()}, request))


urlpatterns = [path("gallery/", page), path("", include("brewhygiene.urls"))]
