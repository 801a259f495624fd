"""Words of people with their light markup: ``{% load markup %}``, ``{{ note.words|markup }}``."""

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from oneonone.web import markup as light

register = template.Library()


@register.filter(is_safe=True)
def markup(words: str) -> SafeString:
    """The words as blocks, in a frame that carries their style. No words, no frame."""
    return (
        format_html('<div class="markup" dir="auto">{}</div>', light.html(words)) if words else SafeString()
    )
