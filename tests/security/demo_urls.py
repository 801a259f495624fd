"""The addresses of the demo's server: all of a real one's, and those that only the demo has."""

from django.urls import URLPattern, URLResolver, include, path

from oneonone.urls import handler403, handler404
from oneonone.urls import urlpatterns as of_a_real_server

__all__ = ["handler403", "handler404", "urlpatterns"]

urlpatterns: list[URLPattern | URLResolver] = [
    *of_a_real_server,
    path("", include("oneonone.web.demo.urls")),
]
