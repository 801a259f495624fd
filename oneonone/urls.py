"""The addresses of the server: allauth's under /account/, our own pages at the root."""

from importlib.util import find_spec

from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [path("account/", include("allauth.urls"))]
if find_spec("oneonone.web.urls"):
    urlpatterns.append(path("", include("oneonone.web.urls")))
