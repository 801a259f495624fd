"""The addresses of a server in the demo: all of an ordinary one, and those that only the demo has."""

from django.urls import include, path

from oneonone.urls import urlpatterns as ordinary

urlpatterns = [*ordinary, path("", include("oneonone.web.demo.urls"))]
