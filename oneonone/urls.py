"""The addresses of the server: allauth's under /account/, our own pages at the root."""

from django.urls import include, path

urlpatterns = [
    path("account/", include("allauth.urls")),
    path("", include("oneonone.web.urls")),
]
