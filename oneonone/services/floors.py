"""The least share of the minutes discussed that each side of a line wants for its own topics."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import Line, Meeting, Side

from .refusals import NotNow, OutOfRange

# At most half each, so that two shares never ask for more than there is.
LEAST_PERCENT, MOST_PERCENT = 5, 50


@transaction.atomic
def set_floor(*, line: Line, percent: int | None, actor: Person, now: dt.datetime) -> Line:
    """Set the share one side wants at least, in percent of the minutes discussed, or None for no share.

    Nothing is kept by it until both sides have set one. It changes orders that are not issued yet; an issued
    one stays as people prepare against it, and goes by it when it is planned again. Refused: below 5 or above
    50 percent.
    """
    side = line.side_of(actor)
    if side is None or not line.is_open:
        raise NotNow
    if percent is not None and not LEAST_PERCENT <= percent <= MOST_PERCENT:
        raise OutOfRange(
            field="percent",
            accepted=_("From %(least)d to %(most)d percent, or nothing.")
            % {"least": LEAST_PERCENT, "most": MOST_PERCENT},
        )
    field = "manager_floor_percent" if side is Side.MANAGER else "report_floor_percent"
    Line.objects.filter(pk=line.pk).update(**{field: percent}, version=F("version") + 1)
    Meeting.objects.filter(line=line, state=Meeting.State.PLANNED).update(seq=F("seq") + 1)
    line.refresh_from_db()
    return line
