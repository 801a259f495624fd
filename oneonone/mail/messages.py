"""One function per message, and two templates: plain text and HTML."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from email.utils import format_datetime
from typing import Any

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string
from django.utils import translation
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.mail import links, subjects, wording
from oneonone.models import Mail
from oneonone.selectors.notices import mail_texts, notices
from oneonone.selectors.notices.notices import NoticeView
from oneonone.selectors.people import organisation
from oneonone.services.notices.mail_sending import Claimed


def of(claimed: Claimed, *, now: dt.datetime) -> EmailMultiAlternatives:
    """The message that a claimed mail is, in the language of whoever gets it."""
    mail = claimed.mail
    locale = mail.person.locale if mail.person is not None else settings.LANGUAGE_CODE
    with translation.override(locale):
        return _WRITERS[Mail.Kind(mail.kind)](claimed, now)


def digest(claimed: Claimed, now: dt.datetime) -> EmailMultiAlternatives:
    """What is told to a person, one sentence and one link for each; first what waits for their answer."""
    views = sorted(_views(claimed, now), key=lambda view: not view.asks)
    return _of_notices(claimed, "digest", views, now)


def notice(claimed: Claimed, now: dt.datetime) -> EmailMultiAlternatives:
    """The one thing that does not wait for the digest."""
    return _of_notices(claimed, "notice", _views(claimed, now), now)


def invitation(claimed: Claimed, now: dt.datetime) -> EmailMultiAlternatives:
    """The link to join, who invites, and until when it works."""
    asked = claimed.mail.invitation
    if asked is None:
        raise ValueError("a mail of an invitation without one")
    context = {
        "link": mail_texts.text_of(claimed.mail),
        "inviter": wording.plain(asked.invited_by.name),
        "until": wording.when(asked.expires_at, asked.invited_by),
    }
    subject = _("You are invited to prepare your one-on-ones together")
    return _message(claimed, "invitation", subject, context, now)


def account(claimed: Claimed, now: dt.datetime) -> EmailMultiAlternatives:
    """A mail about an account, whose text was made when it was asked for."""
    mail = claimed.mail
    return _message(claimed, "account", mail.subject, {"body": mail_texts.text_of(mail)}, now)


OF_NOTICES = (Mail.Kind.DIGEST, Mail.Kind.ISSUED, Mail.Kind.NOTICE)
_WRITERS = {
    Mail.Kind.DIGEST: digest,
    Mail.Kind.ISSUED: digest,
    Mail.Kind.NOTICE: notice,
    Mail.Kind.INVITATION: invitation,
    Mail.Kind.ACCOUNT: account,
}


def _reader(claimed: Claimed) -> Person:
    reader: Person | None = claimed.mail.person
    if reader is None:
        raise ValueError("a mail of notices without a reader")
    return reader


def _views(claimed: Claimed, now: dt.datetime) -> list[NoticeView]:
    reader = _reader(claimed)
    return [notices.view_of(owed, reader, now=now) for owed in claimed.notices]


def _of_notices(
    claimed: Claimed, name: str, views: Sequence[NoticeView], now: dt.datetime
) -> EmailMultiAlternatives:
    reader = _reader(claimed)
    items = _items(views, reader)
    return _message(claimed, name, subjects.of(views, reader), {"items": items}, now)


def _items(views: Sequence[NoticeView], reader: Person) -> list[dict[str, str]]:
    return [{"sentence": wording.sentence(view, reader), "link": links.of_notice(view)} for view in views]


def _unsubscribing(mail: Mail) -> dict[str, str]:
    """One press in the mail program turns notices by mail off (RFC 8058). It needs a link over TLS.

    Mails about the account and invitations are no list: they have been asked for one by one.
    """
    if mail.person is None or mail.kind not in OF_NOTICES:
        return {}
    link = links.unsubscribe(mail.person)
    headers = {"List-Unsubscribe": f"<{link}>"}
    if link.startswith("https:"):
        headers["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    return headers


def _message(
    claimed: Claimed, name: str, subject: str, context: dict[str, Any], now: dt.datetime
) -> EmailMultiAlternatives:
    mail = claimed.mail
    context = {
        "subject": subject,
        "organisation": wording.plain(organisation.display_name()),
        "first_page": links.first_page(),
        "settings_page": links.settings_page(),
        **context,
    }
    message = EmailMultiAlternatives(
        # Without line breaks: one would begin another header (RFC 5322, 2.2).
        subject=" ".join(subject.split()),
        body=render_to_string(f"mail/{name}.txt", context),
        from_email=settings.DEFAULT_FROM_EMAIL,
        to=[mail.to_address],
        headers={
            "Message-ID": mail.message_id,
            "Date": format_datetime(now),
            # Nobody's out-of-office answers this (RFC 3834, section 5).
            "Auto-Submitted": "auto-generated",
            **_unsubscribing(mail),
        },
    )
    message.attach_alternative(render_to_string(f"mail/{name}.html", context), "text/html")
    return message
