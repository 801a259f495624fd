"""The form about sharing the time of a line."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from oneonone.services.floors import LEAST_PERCENT, MOST_PERCENT
from oneonone.web.forms.base import Form


class FloorForm(Form):
    """The least share of the minutes discussed that the reader wants for their own topics."""

    percent = forms.IntegerField(
        label=_("At least for what I bring"),
        required=False,
        min_value=LEAST_PERCENT,
        max_value=MOST_PERCENT,
        help_text=_("In percent of the minutes discussed, from 5 to 50. Left empty: no share."),
    )
