"""The one-button form beside a meeting that falls on days away."""

from __future__ import annotations

from django import forms

from oneonone.web.base_forms import Form


class OfferForm(Form):
    """Which meeting, and to which of the offered days."""

    meeting = forms.UUIDField()
    day = forms.DateField()
    time = forms.TimeField()
