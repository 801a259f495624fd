"""The form for a person's own calendar file, which is read for busy times."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from oneonone.web.base_forms import Form


class CalendarForm(Form):
    """One iCalendar file."""

    calendar = forms.FileField(
        label=_("Your calendar"),
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": ".ics,text/calendar"}),
        help_text=_("An .ics file exported from your calendar program. Drop it here or choose it."),
        error_messages={"required": _("Choose the .ics file of your calendar.")},
    )
