"""What is private, and from whom."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from oneonone.web.policy import PUBLIC, PublicRequest, view


@view(policy=PUBLIC)
def show(request: PublicRequest) -> HttpResponse:
    """The page is the same for everybody and also public, for people who have no account yet."""
    base = "base.html" if request.person else "base_signed_out.html"
    return render(request, "private/privacy.html", {"base": base})
