"""The base class of all forms. Its error messages say what is accepted."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

CHOOSE = _("Choose one of those offered.")
NOT_OFFERED = _("“%(value)s” is not offered. Choose one of those offered.")
LONG = ngettext_lazy(
    "At most %(limit_value)d character; this has %(show_value)d.",
    "At most %(limit_value)d characters; this has %(show_value)d.",
    "limit_value",
)
FIRST_DAY, LAST_DAY = dt.date(1970, 1, 1), dt.date(2199, 12, 31)
OUT_OF_REACH = _("Enter a date from 1970 to 2199.")
OUTDATED = _("This page has changed since it was opened. Open it again.")
WORDS: tuple[tuple[type[forms.Field], dict[str, str | Promise]], ...] = (
    (
        forms.EmailField,
        {
            "required": _("Enter an address, such as ola@example.org."),
            "invalid": _("That is not a complete address. Enter one such as ola@example.org."),
        },
    ),
    (
        forms.DateField,
        {
            "required": _("Enter a date, such as 2026-12-03."),
            "invalid": _("That is not a date. Enter one such as 2026-12-03."),
        },
    ),
    (
        forms.TimeField,
        {
            "required": _("Enter a time, such as 09:30."),
            "invalid": _("That is not a time. Enter one such as 09:30."),
        },
    ),
    (forms.MultipleChoiceField, {"required": _("Choose at least one."), "invalid_choice": NOT_OFFERED}),
    (forms.ModelMultipleChoiceField, {"required": _("Choose at least one."), "invalid_choice": NOT_OFFERED}),
    (forms.ChoiceField, {"required": CHOOSE, "invalid_choice": NOT_OFFERED}),
    (forms.ModelChoiceField, {"required": CHOOSE, "invalid_choice": NOT_OFFERED}),
    (forms.CharField, {"required": _("Enter something here."), "max_length": LONG}),
)
WHOLE = {
    (True, True): _("Enter a whole number from %(least)d to %(most)d."),
    (True, False): _("Enter a whole number of %(least)d or more."),
    (False, True): _("Enter a whole number up to %(most)d."),
    (False, False): _("Enter a whole number."),
}


def within_reach(day: dt.date) -> None:
    """Refuse dates so early or late that date arithmetic would overflow."""
    if not FIRST_DAY <= day <= LAST_DAY:
        raise ValidationError(OUT_OF_REACH, code="out_of_reach")


class Form(forms.Form):
    """A form whose error messages say what is accepted.

    Messages that a field sets itself are kept. Date fields refuse dates out of range.
    """

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, forms.DateField):
                field.validators.append(within_reach)
            for code, message in _messages(field):
                if field.error_messages.get(code) in (None, *_defaults(field, code)):
                    field.error_messages[code] = message


def _messages(field: forms.Field) -> Iterator[tuple[str, Any]]:
    if field.widget.is_hidden:  # Hidden fields are not typed, so the page is outdated.
        codes = ("required", "invalid", "min_value", "max_value", "invalid_choice")
        yield from ((code, OUTDATED) for code in codes)
        return
    if isinstance(field, forms.IntegerField):
        wanted = WHOLE[field.min_value is not None, field.max_value is not None]
        words = wanted % {"least": field.min_value, "most": field.max_value}
        yield from ((code, words) for code in ("required", "invalid", "min_value", "max_value"))
        return
    yield from next((words for kind, words in WORDS if isinstance(field, kind)), {}).items()


def _defaults(field: forms.Field, code: str) -> Iterator[Any]:
    """Return Django's default messages for this code."""
    for kind in type(field).__mro__:
        said = getattr(kind, "default_error_messages", {}).get(code)
        if said is not None:
            yield said
