"""Delivering what is owed: one mail at a time, claimed before and settled after."""

from __future__ import annotations

import datetime as dt
import logging
from functools import partial

from django.db import Error as DatabaseFault

from oneonone.mail import messages
from oneonone.mail.post import Post
from oneonone.services import sending
from oneonone.services.sending import ClaimLost, Outcome

log = logging.getLogger(__name__)


def deliver_one(now: dt.datetime, *, post: Post) -> bool:
    """Send the mail that has been due longest. False when none is due, or there is no server to talk to.

    A fault of the database is no fault of the mail: it is raised, and the mail stays claimed. Where its text
    had not begun to leave it goes back to the queue once the claim is too old.
    """
    claimed = sending.claim_one(now)
    if claimed is None:
        return False
    try:
        message = messages.of(claimed, now=now)
    except DatabaseFault:
        raise
    except Exception as fault:
        # Nothing was sent, and trying again would end the same way.
        log.exception("%r cannot be written", claimed.mail)
        sending.settle(claimed=claimed, outcome=Outcome.REFUSED, error=type(fault).__name__, now=now)
        return True
    try:
        handed = post.hand_over(message, partial(sending.begin, claimed=claimed, now=now))
    except ClaimLost:
        log.warning("%r was no longer this process's to send, and was not sent", claimed.mail)
        return True
    sending.settle(claimed=claimed, outcome=handed.outcome, error=handed.error, now=now)
    return handed.outcome is not Outcome.AWAY
