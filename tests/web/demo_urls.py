"""The addresses of a server in the demo: all of an ordinary one, and those that only the demo has."""

from django.urls import include, path

from oneonone.urls import handler403, handler404
from oneonone.urls import urlpatterns as ordinary

__all__ = ["handler403", "handler404", "urlpatterns"]

urlpatterns = [*ordinary, path("", include("oneonone.web.urls_demo"))]
