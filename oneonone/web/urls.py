"""All pages. Each noun keeps its own addresses."""

from django.conf import settings
from django.urls import include, path

NOUNS = ("notices", "private", "record", "commitments", "agenda", "meetings", "people", "lines", "cadence")

urlpatterns = [path("", include(f"oneonone.web.{noun}.urls")) for noun in NOUNS]
if settings.DEMO:
    urlpatterns.append(path("", include("oneonone.web.demo.urls")))
