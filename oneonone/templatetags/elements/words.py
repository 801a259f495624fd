"""What a page says: its head, what happened, cautions, private paper, more when asked for."""

from datetime import datetime, tzinfo

from oneonone.templatetags.elements.registry import Values, block_element, one_of

NOTICE_KINDS = ("note", "done", "refused", "waiting")


@block_element
def page_header(*, title: str, eyebrow: str = "", lead: str = "", id: str = "") -> None:
    """The one ``h1`` of a page; the content is its acts."""


@block_element
def notice(*, kind: str = "note", title: str = "") -> Values:
    """What happened or waits: "note", "done", "refused" (role alert), "waiting" (for somebody's answer)."""
    one_of(kind, NOTICE_KINDS, "kind")
    return {"role": "alert" if kind == "refused" else "status"}


@block_element
def caution(*, title: str = "", contacts: bool = True) -> None:
    """A caution beside the act it is about, with the way to the organisation's contacts."""


@block_element
def private_paper(*, tab: str, note: str = "", id: str = "") -> None:
    """Ruled paper under a dark tab. ``tab`` says from whom it is hidden: "Your margin, not shown to Ines"."""


@block_element
def empty_state(*, title: str, action_label: str = "", action_href: str = "") -> None:
    """Nothing here yet: why, and the next step."""


@block_element
def disclosure(
    *,
    summary: str,
    about: str = "",
    opened: bool = False,
    as_button: bool = False,
    to_field: bool = False,
    id: str = "",
) -> None:
    """More, when it is asked for; works without script. ``about`` is heard and not seen: of what.

    With ``to_field`` the first field in it takes the focus when it is opened.
    """


@block_element
def mail_message(
    *,
    subject: str,
    to: str,
    sender: str = "",
    sent_at: datetime | None = None,
    zone: tzinfo | str | None = None,
    state: str = "",
) -> None:
    """A mail as it was sent; the content is its plain text."""
