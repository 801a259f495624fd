"""Addresses put together in templates: ``{% load places %}``."""

from uuid import UUID

from django import template
from django.forms import BoundField
from django.utils.http import urlencode

register = template.Library()


@register.filter
def at_topic(path: str, topic_id: UUID | str) -> str:
    """The page at one of its topics; the page itself when there is none."""
    return f"{path}#topic-{topic_id}" if topic_id else path


@register.filter
def at_field(path: str, field: BoundField) -> str:
    """The page at a field on it, which takes the focus there."""
    return f"{path}#{field.id_for_label}"


@register.filter
def then_to(path: str, back: str) -> str:
    """An address that leads back to ``back`` once the act is done."""
    return f"{path}?{urlencode({'next': back})}"
