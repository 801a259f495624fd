"""A calendar of one's own, to be read for busy times."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from oneonone.web.forms.base import Form


class CalendarForm(Form):
    """One iCalendar file."""

    calendar = forms.FileField(
        label=_("Your calendar"),
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": ".ics,text/calendar"}),
        help_text=_("An .ics file exported from your calendar program."),
        error_messages={"required": _("Choose the .ics file of your calendar.")},
    )
