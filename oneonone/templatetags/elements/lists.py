"""Tables, terms, steps, tabs, and the way through a long list."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.core.paginator import Page
from django.template.context import Context
from django.utils.translation import gettext as _

from oneonone.templatetags.elements.registry import Values, block_element, element, one_of

STEP_STATES = ("done", "now", "to-come")


@block_element
def data_table(*, caption: str, caption_hidden: bool = False, id: str = "") -> None:
    """A table of ``thead`` and ``tbody``.

    Each cell names its column in ``data-label`` for narrow screens, where a row becomes a card; the row's
    ``th scope="row"`` goes without and heads the card.
    """


@block_element
def definitions(*, pairs: Mapping[str, object] | Iterable[tuple[str, object]] = ()) -> Values:
    """Terms and descriptions: the ``pairs``, then the content (``dt`` and ``dd``)."""
    return {"pairs": pairs.items() if isinstance(pairs, Mapping) else pairs}


@block_element
def steps(*, label: str) -> None:
    """A short list of ``step``."""


@element
def step(label: str, *, state: str = "to-come", href: str = "", note: str = "") -> Values:
    """One line of ``steps``: "done", "now" or "to-come", said in a word and drawn as a shape."""
    one_of(state, STEP_STATES, "state")
    words = {"done": _("done"), "now": _("now"), "to-come": _("to do")}
    return {"state_word": words[state]}


@block_element
def tabs(*, label: str) -> None:
    """Neighbouring pages of one thing; the content is ``tab`` after ``tab``."""


@element
def tab(label: str, *, href: str, current: bool = False) -> None:
    """One neighbour; the page shown is ``current``."""


@element
def pagination(
    context: Context, page: Page[Any], *, label: str = "", parameter: str = "page", anchor: str = ""
) -> Values:
    """Links to the neighbours of a page of a list, keeping the rest of the query.

    ``anchor`` is the id at which the list begins, where it is not the first thing of its page.
    """
    query = context["request"].GET.copy()

    def href(number: int) -> str:
        query[parameter] = str(number)
        return f"?{query.urlencode()}{f'#{anchor}' if anchor else ''}"

    return {
        "label": label or _("Pages of this list"),
        "previous_href": href(page.previous_page_number()) if page.has_previous() else "",
        "next_href": href(page.next_page_number()) if page.has_next() else "",
    }


@element
def nav_link(context: Context, name: str, label: str) -> Values:
    """A place in the header, current by its URL's name or by the context's ``section``."""
    match = getattr(context.get("request"), "resolver_match", None)
    if match is not None and match.url_name == name:
        return {"current": "page"}
    return {"current": "true" if context.get("section") == name else ""}
