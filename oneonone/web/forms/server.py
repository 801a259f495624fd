"""The forms of the server's settings, for administrators."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from oneonone.models import Organisation
from oneonone.web.forms.base import Form
from oneonone.web.forms.people import DAY


class ServerSettingsForm(Form):
    """What holds for everybody, and the version that was read."""

    second_factor_for = forms.ChoiceField(
        label=_("A second factor when signing in"),
        choices=Organisation.SecondFactorFor.choices,
        widget=forms.RadioSelect,
        help_text=_("Whoever has to have one and has none sets it up first, and sees no other page before."),
    )
    lead_needs_confirmed_lines = forms.BooleanField(
        label=_("Leads see a line only once an administrator has confirmed it"),
        required=False,
        help_text=_("Without this, whoever says that somebody reports to them opens that part of the tree."),
    )
    version = forms.IntegerField(widget=forms.HiddenInput)

    @classmethod
    def of(cls, organisation: Organisation) -> ServerSettingsForm:
        """The form as it stands."""
        return cls(
            initial={
                "second_factor_for": organisation.second_factor_for,
                "lead_needs_confirmed_lines": organisation.lead_needs_confirmed_lines,
                "version": organisation.version,
            }
        )


class ClosingDayForm(Form):
    """A day on which the whole organisation is closed."""

    day = forms.DateField(label=_("Day"), widget=forms.DateInput(attrs=DAY, format="%Y-%m-%d"))
