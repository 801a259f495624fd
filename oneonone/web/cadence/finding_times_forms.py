"""The one-button form beside a proposed time."""

from __future__ import annotations

from django import forms

from oneonone.web.base_forms import Form


class TakeForm(Form):
    """The day and time, in the line's time zone."""

    client_key = forms.UUIDField()
    day = forms.DateField()
    time = forms.TimeField()
