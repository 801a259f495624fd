"""The addresses of the server: allauth's under /account/, our own pages at the root."""

from allauth import urls as allauth
from django.urls import URLPattern, URLResolver, include, path

# The same pages, byte for byte, as the policies of our views give: without them an address that leads nowhere
# could be told from one that leads to what is hidden.
handler403 = "oneonone.web.policy.forbidden_page"
handler404 = "oneonone.web.policy.missing_page"

# Its page of sessions ends them without asking who one is.
OF_ALLAUTH = [entry for entry in allauth.urlpatterns if str(entry.pattern) != "sessions/"]

urlpatterns: list[URLPattern | URLResolver] = [
    path("account/sessions/", include("oneonone.web.urls_sessions")),
    path("account/", include(OF_ALLAUTH)),
    path("", include("oneonone.web.urls")),
]
