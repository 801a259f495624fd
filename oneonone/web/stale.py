"""Edits of an outdated version: the page shows both texts, and the form can be saved again."""

from __future__ import annotations

from dataclasses import dataclass, field

from django.http import HttpRequest, QueryDict

from oneonone.services.refusals import Stale

STATUS = 412


@dataclass(frozen=True)
class Texts:
    """What was typed, and what is kept now. Either may be private, so neither shows in its ``repr``."""

    yours: str = field(repr=False)
    theirs: str = field(repr=False)


def texts(request: HttpRequest, refusal: Stale, field: str) -> Texts:
    """Both texts of one field."""
    return Texts(yours=request.POST.get(field, ""), theirs=refusal.theirs.get(field, ""))


def sent_again(request: HttpRequest, refusal: Stale, counter: str = "version") -> QueryDict:
    """What was sent, as an edit of the version that is kept now."""
    data = request.POST.copy()
    data[counter] = str(refusal.version)
    return data
