"""Search in one's own notes.

The words are sent in the request body, so that no URL, log or session contains them.
"""

from __future__ import annotations

from allauth.core import ratelimit
from django.http import HttpResponse
from django.shortcuts import render

from oneonone.selectors import ownwords
from oneonone.web import markup, refused, sent
from oneonone.web.forms.search import SearchForm
from oneonone.web.policy import SIGNED_IN, PersonRequest, view


@view(policy=SIGNED_IN, methods=("GET", "POST"))
def own_notes(request: PersonRequest) -> HttpResponse:
    """The form, and below it what was found."""
    form = SearchForm(sent.form_data(request))
    search = None
    if request.method == "POST" and form.is_valid():
        if not ratelimit.consume(request, action="search_notes"):
            return ratelimit.respond_429(request)
        search = ownwords.search(request.person, form.cleaned_data["words"], plain=markup.plain)
    context = {"form": form, "search": search, "most": ownwords.MOST_READ, "section": "lines"}
    return render(request, "pages/notes_search.html", context, status=refused.status(form))
