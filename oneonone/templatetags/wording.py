"""Rows said in words, for templates: ``{% load wording %}``."""

from django import template

from oneonone.models import Interval, Meeting
from oneonone.selectors.agenda.duration_history import History
from oneonone.web import wording
from oneonone.web.agenda.wording import duration_wording

register = template.Library()


@register.filter
def how_often(interval: Interval) -> str:
    return wording.how_often(interval)


@register.filter
def in_full(interval: Interval) -> str:
    return wording.interval_in_full(interval)


@register.filter
def shape(kind: str) -> str:
    """A standing's kind as its element calls it: "runs out" is drawn by "runs-out"."""
    return kind.replace(" ", "-")


@register.filter
def state_words(state: str) -> str:
    """A meeting's state by its code, in the reader's language."""
    return str(Meeting.State(state).label)


@register.filter
def how_kinds_run(history: History) -> list[str]:
    return duration_wording.rows(history)
