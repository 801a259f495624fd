"""What a year of acts has owed people, settled as it would be by now."""

from __future__ import annotations

import datetime as dt

from django.db.models import F

from oneonone.models import Commitment, Notice

from .scenario import Days

STILL_NEW = dt.timedelta(days=3)


def settle(*, days: Days) -> None:
    """What is older than three days was read and mailed long ago; what is newer waits for the first mail.

    Dates that have passed have been reminded of.
    """
    old = Notice.objects.filter(owed_at__lt=days.now - STILL_NEW)
    old.update(mailed=True, read_at=F("owed_at"))
    Commitment.objects.filter(remind_at__lt=days.now).update(remind_at=None)
