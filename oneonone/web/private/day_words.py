"""The day of an event as people type it: "today", "yesterday", "last Tuesday", "12 Nov", "2026-11-12"."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import formats
from django.utils.dates import MONTHS, MONTHS_3, MONTHS_ALT, WEEKDAYS, WEEKDAYS_ABBR
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

ACCEPTED = _(
    "“today”, “yesterday”, a weekday such as “last Tuesday”, or a date such as 12 Nov or 2026-11-12."
)
ISO = "%Y-%m-%d"
WEEK = 7


def parse_day(text: str, *, today: dt.date) -> dt.date:
    """The day that the words mean to somebody whose day is ``today``; empty means today.

    A weekday is its latest date before today. A date without a year is its latest one that is not in the
    future. ValueError for everything else.
    """
    words = " ".join(text.casefold().split())
    if words in ("", gettext("today").casefold()):
        return today
    if words == gettext("yesterday").casefold():
        return today - dt.timedelta(days=1)
    weekday = _weekday(words.removeprefix(gettext("last").casefold()).strip())
    if weekday is not None:
        return today - dt.timedelta(days=(today.weekday() - weekday - 1) % WEEK + 1)
    for pattern in (ISO, *formats.get_format("DATE_INPUT_FORMATS")):
        try:
            return dt.datetime.strptime(words, pattern).date()  # noqa: DTZ007 - a date without a zone is meant
        except ValueError:
            continue
    return _day_and_month(words, today)


def _weekday(word: str) -> int | None:
    for names in (WEEKDAYS, WEEKDAYS_ABBR):
        for number, name in names.items():
            if word == str(name).casefold():
                return number
    return None


def _day_and_month(words: str, today: dt.date) -> dt.date:
    parts = words.replace(".", " ").replace(",", " ").split()
    numbers = [int(part) for part in parts if part.isdecimal()]
    months = [month for part in parts if (month := _month(part)) is not None]
    if len(months) != 1 or not 1 <= len(numbers) <= 2 or len(parts) != len(numbers) + 1:
        raise ValueError(words)
    if len(numbers) == 2:
        day, year = sorted(numbers)
        return dt.date(year, months[0], day)
    # 29 February without a year is the latest one there was.
    for year in range(today.year, today.year - 8, -1):
        try:
            found = dt.date(year, months[0], numbers[0])
        except ValueError:
            continue
        if found <= today:
            return found
    raise ValueError(words)


def _month(word: str) -> int | None:
    for names in (MONTHS, MONTHS_3, MONTHS_ALT):
        for number, name in names.items():
            if word == str(name).casefold().strip("."):
                return number
    return None


class DayInWordsField(forms.CharField):
    """A day that has happened, typed in words or as a date. ``today`` is set by the form."""

    today: dt.date

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, max_length=40, **kwargs)

    def clean(self, value: Any) -> dt.date:
        text = super().clean(value)
        try:
            day = parse_day(str(text), today=self.today)
        except (ValueError, OverflowError):
            raise ValidationError(
                gettext("That is not a day. Accepted: %(accepted)s") % {"accepted": ACCEPTED}, code="invalid"
            ) from None
        if day > self.today:
            raise ValidationError(gettext("That day is still to come. Today or a day before is accepted."))
        return day
