"""Search in one's own notes.

The words are sent in the request body, so that no URL, log or session contains them.
"""

from __future__ import annotations

from allauth.core import ratelimit
from django.http import HttpResponse
from django.shortcuts import render

from oneonone.selectors.private import note_search
from oneonone.web import form_refusals, markup, posted_data
from oneonone.web.policy import SIGNED_IN, PersonRequest, view
from oneonone.web.private.search_forms import SearchForm


@view(policy=SIGNED_IN, methods=("GET", "POST"))
def own_notes(request: PersonRequest) -> HttpResponse:
    """The form, and below it what was found."""
    form = SearchForm(posted_data.form_data(request))
    search = None
    if request.method == "POST" and form.is_valid():
        if not ratelimit.consume(request, action="search_notes"):
            return ratelimit.respond_429(request)
        search = note_search.search(request.person, form.cleaned_data["words"], plain=markup.plain)
    context = {"form": form, "search": search, "most": note_search.MOST_READ, "section": "lines"}
    return render(request, "private/notes_search.html", context, status=form_refusals.status(form))
