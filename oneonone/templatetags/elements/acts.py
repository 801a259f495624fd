"""Acts: links and buttons that do something, and the question before one that cannot be taken back."""

from django.utils.translation import gettext as _

from oneonone.templatetags.elements.registry import Values, block_element, element, one_of

KINDS = ("primary", "secondary", "quiet")


@element
def button(
    label: str,
    *,
    href: str = "",
    kind: str = "secondary",
    small: bool = False,
    about: str = "",
    note: str = "",
    name: str = "",
    value: object = "",
    form: str = "",
    formaction: str = "",
    id: str = "",
) -> None:
    """A link when ``href`` is given, else a submit button. ``kind``: "primary", "secondary" or "quiet".

    ``about`` names what it acts on for readers who cannot see its place ("Withdraw" + "Safety drill log").
    ``note`` is a second, smaller line inside. ``form`` and ``formaction`` are the attributes of HTML.
    """
    one_of(kind, KINDS, "kind")


@element
def post_button(
    label: str,
    *,
    action: str,
    kind: str = "secondary",
    small: bool = False,
    about: str = "",
    note: str = "",
    id: str = "",
    **hidden: object,
) -> Values:
    """One act in a form of its own; further arguments are hidden fields (``version=topic.version``)."""
    one_of(kind, KINDS, "kind")
    return {"hidden": hidden}


@block_element
def confirm(
    *,
    title: str,
    action: str,
    confirm_label: str,
    cancel_href: str,
    cancel_label: str = "",
    **hidden: object,
) -> Values:
    """One question before an act that shares, ends or deletes.

    The content says what will happen and lies inside the form, so it may hold fields. Further named arguments
    are hidden fields.
    """
    return {"cancel_label": cancel_label or _("Go back"), "hidden": hidden}
