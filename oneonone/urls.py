"""The addresses of the server: allauth's under /account/, our own pages at the root."""

from django.urls import URLPattern, URLResolver, include, path

# The same pages, byte for byte, as the policies of our views give: without them an address that leads nowhere
# could be told from one that leads to what is hidden.
handler403 = "oneonone.web.policy.forbidden_page"
handler404 = "oneonone.web.policy.missing_page"

urlpatterns: list[URLPattern | URLResolver] = [
    path("account/sessions/", include("oneonone.web.signing_in.session_urls")),
    path("account/", include("allauth.urls")),
    path("", include("oneonone.web.urls")),
]
