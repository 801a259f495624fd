"""Edits of an outdated version: both texts are shown, and the form then saves on the current version."""

from __future__ import annotations

from dataclasses import dataclass, field

from django.http import HttpRequest, QueryDict

from oneonone.services.refusals import Stale

STATUS = 412


@dataclass(frozen=True)
class Texts:
    """The text that was typed, and the text stored now. Either may be private, so ``repr`` shows neither."""

    yours: str = field(repr=False)
    theirs: str = field(repr=False)


def texts(request: HttpRequest, refusal: Stale, field: str) -> Texts:
    """Both texts of one field."""
    return Texts(yours=request.POST.get(field, ""), theirs=refusal.theirs.get(field, ""))


def sent_again(request: HttpRequest, refusal: Stale, counter: str = "version") -> QueryDict:
    """The submitted data, as an edit of the version stored now."""
    data = request.POST.copy()
    data[counter] = str(refusal.version)
    return data
