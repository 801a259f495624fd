"""Delivering what is owed: one mail at a time, claimed before and settled after."""

from __future__ import annotations

import datetime as dt
import logging
from functools import partial
from time import sleep

from django.db import Error as DatabaseFault
from django.db import InterfaceError, OperationalError, connection

from oneonone.mail import messages
from oneonone.mail.post import Handed, Post
from oneonone.services.notices import mail_sending
from oneonone.services.notices.mail_sending import Claimed, ClaimLost, Outcome

log = logging.getLogger(__name__)
TRIES = 10
PAUSE_SECONDS = 1.0


def _settle(claimed: Claimed, handed: Handed, now: dt.datetime) -> None:
    """Note how it ended. A database that restarts just now is waited for: the mail would become *unknown*."""
    for tries_left in reversed(range(TRIES)):
        try:
            mail_sending.settle(claimed=claimed, outcome=handed.outcome, error=handed.error, now=now)
            return
        except (OperationalError, InterfaceError):
            if not tries_left or connection.in_atomic_block:
                raise
            connection.close()
            sleep(PAUSE_SECONDS)


def deliver_one(now: dt.datetime, *, post: Post) -> bool:
    """Send the mail that has been due longest. False when none is due, or there is no server to talk to.

    A fault of the database is no fault of the mail: it is raised, and the mail stays claimed. Where its text
    had not begun to leave it goes back to the queue once the claim is too old.
    """
    claimed = mail_sending.claim_one(now)
    if claimed is None:
        return False
    try:
        message = messages.of(claimed, now=now)
    except DatabaseFault:
        raise
    except Exception as fault:
        # Nothing was sent, and trying again would end the same way.
        log.exception("%r cannot be written", claimed.mail)
        mail_sending.settle(claimed=claimed, outcome=Outcome.REFUSED, error=type(fault).__name__, now=now)
        return True
    try:
        handed = post.hand_over(message, partial(mail_sending.begin, claimed=claimed, now=now))
    except ClaimLost:
        log.warning("%r was no longer this process's to send, and was not sent", claimed.mail)
        return True
    _settle(claimed, handed, now)
    return handed.outcome is not Outcome.AWAY
