"""All pages. Each place keeps its own addresses."""

from importlib.util import find_spec

from django.conf import settings
from django.urls import include, path

urlpatterns = [
    path("", include(f"oneonone.web.{place}"))
    for place in ("urls_lines", "urls_meetings", "urls_cadence", "urls_account")
    if find_spec(f"oneonone.web.{place}")
]
if settings.DEMO and find_spec("oneonone.web.urls_demo"):
    urlpatterns.append(path("", include("oneonone.web.urls_demo")))
