"""The forms of the server's settings, for administrators."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from oneonone.models import Organisation
from oneonone.web.base_forms import Form
from oneonone.web.people.people_forms import DAY


class ServerSettingsForm(Form):
    """What holds for everybody, and the version that was read."""

    second_factor_for = forms.ChoiceField(
        label=_("A second factor when signing in"),
        choices=Organisation.SecondFactorFor.choices,
        widget=forms.RadioSelect,
        help_text=_("People who need one and have none must set it up before they see any other page."),
    )
    lead_needs_confirmed_lines = forms.BooleanField(
        label=_("Leads see a line only once an administrator has confirmed it"),
        required=False,
        help_text=_(
            "Without this, a team lead sees the dates of a line as soon as somebody below them adds it."
        ),
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
