"""What is private, and from whom."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from oneonone.web.policy import PUBLIC, PublicRequest, view


@view(policy=PUBLIC)
def show(request: PublicRequest) -> HttpResponse:
    """The same words for everybody; also before one has an account, since that is when they are needed."""
    base = "base.html" if request.person else "base_signed_out.html"
    return render(request, "pages/privacy.html", {"base": base})
