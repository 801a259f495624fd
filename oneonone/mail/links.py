"""Links in mails. They start with the address the server is known by, never with that of a request."""

from __future__ import annotations

from django.conf import settings
from django.urls import reverse

from accounts.models import Person
from oneonone.models import Notice
from oneonone.selectors.notices.notices import NoticeView
from oneonone.services.notices import mail_wishes

Kind = Notice.Kind
# The page on which each kind is acted on, where it is not the first page. A line that may have ended for the
# reader has no page of its own.
OF_MEETING = {
    Kind.INVITE: "meeting",
    Kind.ISSUED: "meeting",
    Kind.PREPARE: "meeting-prepare",
    Kind.TODAY: "meeting-prepare",
    Kind.MOVED: "meeting",
    Kind.EXTRA: "meeting",
    Kind.CLOCKS: "meeting",
    Kind.AGREED: "meeting",
    Kind.DECLINED: "meeting",
    Kind.CALLED_OFF: "meeting",
    Kind.LEFT_OPEN: "meeting-live",
    Kind.RECORD: "record",
}
OF_LINE = (
    Kind.UNANSWERED,
    Kind.CADENCE,
    Kind.PROPOSAL,
    Kind.AGREED,
    Kind.DECLINED,
    Kind.THIRD_TIME,
    Kind.JOINED,
    Kind.PAUSED,
    Kind.RESUMED,
)


def absolute(path: str) -> str:
    """The full address of a path."""
    return f"{settings.BASE_URL}{path}"


def first_page() -> str:
    """The page where everything that waits is listed."""
    return absolute(reverse("next"))


def settings_page() -> str:
    """The page on which mails can be turned off."""
    return absolute(reverse("settings"))


def unsubscribe(person: Person) -> str:
    """The page, and the address for mail programs, that turns this person's notices by mail off."""
    return absolute(reverse("unsubscribe", args=[mail_wishes.token_for(person)]))


def of_notice(notice: NoticeView) -> str:
    """The page to act on."""
    kind = Kind(notice.kind)
    if kind in OF_MEETING and notice.meeting_id is not None:
        return absolute(reverse(OF_MEETING[kind], args=[notice.meeting_id]))
    if kind == Kind.PROPOSAL and notice.meeting_id is not None:
        return absolute(reverse("meeting", args=[notice.meeting_id]))
    if kind in OF_LINE and notice.line_id is not None:
        return absolute(reverse("line", args=[notice.line_id]))
    return first_page()
