"""What every page's frame reads: the organisation's name, and in the demo its clock."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from django.conf import settings
from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject
from django.utils.translation import gettext as _

from oneonone import clock
from oneonone.selectors.dates import line_calendar
from oneonone.selectors.people import organisation
from oneonone.web.private.logbook_forms import CaptureForm


@dataclass(frozen=True)
class DemoBar:
    """The bar of the demo: what its clock says, and whether its mails can be read (by its administrator)."""

    now: dt.datetime
    mail: bool


def frame(request: HttpRequest) -> Mapping[str, object]:
    """Context of every page; looked up only by pages that show it."""
    context: dict[str, object] = {
        "organisation_name": SimpleLazyObject(organisation.display_name),
        "demo": None,
        "capture": SimpleLazyObject(lambda: _capture(request)),
        "provider": settings.PROVIDER.name if settings.PROVIDER else "",
    }
    if settings.DEMO:
        # A request that was refused early, such as one with a forged Host, never got a reader.
        reader = getattr(request, "user", None)
        mail = reader is not None and reader.is_authenticated and reader.is_administrator
        context["demo"] = DemoBar(now=clock.now(), mail=mail)
    return context


def _capture(request: HttpRequest) -> CaptureForm | None:
    """The field for the logbook at the head of the page, for somebody who is signed in."""
    if not request.user.is_authenticated:
        return None
    today = line_calendar.local_day(clock.now(), request.user.zone)
    form = CaptureForm(today=today, auto_id="capture-%s")
    form.fields["line"].widget.attrs["placeholder"] = _("Log it while it is fresh")
    return form
