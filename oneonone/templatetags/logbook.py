"""Entries of the logbook in words, for templates: ``{% load logbook %}``."""

from django import template

from oneonone.models import LogbookEntry
from oneonone.selectors.private.logbook_entry import EntryContent
from oneonone.web.private import logbook_wording

register = template.Library()
MOST_DOTS = 12


@register.filter
def kind_label(content: EntryContent) -> str:
    """The kind in the reader's language."""
    return str(LogbookEntry.Kind(content.kind).label)


@register.filter
def said(content: EntryContent) -> list[logbook_wording.Said]:
    """The prompts that were answered."""
    return logbook_wording.details(content)


@register.filter
def dots(count: int) -> range:
    """One dot for each, at most twelve: the number stands beside them for whoever cannot see them."""
    return range(min(count, MOST_DOTS))
