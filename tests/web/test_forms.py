"""Refusals of forms say what would be accepted."""

from __future__ import annotations

import pytest
from django import forms

from oneonone.web.base_forms import Form


class Example(Form):
    """A field of each kind."""

    name = forms.CharField(max_length=3)
    email = forms.EmailField()
    day = forms.DateField()
    at = forms.TimeField()
    share = forms.IntegerField(min_value=1, max_value=9)
    count = forms.IntegerField(min_value=1)
    kind = forms.ChoiceField(choices=[("a", "A")])
    kinds = forms.MultipleChoiceField(choices=[("a", "A")])
    key = forms.UUIDField(widget=forms.HiddenInput)
    own = forms.CharField(error_messages={"required": "Words of its own."})


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("name", "", "Enter something here."),
        ("name", "four", "At most 3 characters; this has 4."),
        ("email", "", "Enter an address, such as ola@example.org."),
        ("email", "ola", "That is not a complete address. Enter one such as ola@example.org."),
        ("day", "", "Enter a date, such as 2026-12-03."),
        ("day", "2026-02-30", "That is not a date. Enter one such as 2026-12-03."),
        ("day", "1969-12-31", "Enter a date from 1970 to 2199."),
        ("day", "9999-12-31", "Enter a date from 1970 to 2199."),
        ("at", "", "Enter a time, such as 09:30."),
        ("at", "25:00", "That is not a time. Enter one such as 09:30."),
        ("share", "", "Enter a whole number from 1 to 9."),
        ("share", "ten", "Enter a whole number from 1 to 9."),
        ("share", "10", "Enter a whole number from 1 to 9."),
        ("share", "0", "Enter a whole number from 1 to 9."),
        ("count", "0", "Enter a whole number of 1 or more."),
        ("kind", "b", "“b” is not offered. Choose one of those offered."),
        ("kinds", "", "Choose at least one."),
        ("kinds", "b", "“b” is not offered. Choose one of those offered."),
        ("key", "7", "This page has changed since it was opened. Open it again."),
        ("own", "", "Words of its own."),
    ],
)
def test_a_refusal_says_what_would_be_accepted(field: str, typed: str, said: str) -> None:
    sent = {field: [typed] if field == "kinds" and typed else typed}
    assert Example(sent).errors[field] == [said]


def test_the_framework_keeps_its_own_words_elsewhere() -> None:
    Example()
    assert forms.CharField().error_messages["required"] == "This field is required."
