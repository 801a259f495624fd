"""The addresses of the server: allauth's under /account/, our own pages at the root."""

from importlib.util import find_spec

from django.urls import URLPattern, URLResolver, include, path

# The same pages, byte for byte, as the policies of our views give.
handler403 = "oneonone.web.policy.forbidden_page"
handler404 = "oneonone.web.policy.missing_page"

urlpatterns: list[URLPattern | URLResolver] = [path("account/", include("allauth.urls"))]
if find_spec("oneonone.web.urls"):
    urlpatterns.append(path("", include("oneonone.web.urls")))
