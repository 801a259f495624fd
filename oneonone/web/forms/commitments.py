"""Forms about commitments."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from oneonone.models import Commitment
from oneonone.models.followthrough import ACTION, HOW_KNOWN
from oneonone.web.forms.base import Form


def _picker() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class TakeOnForm(Form):
    """Who does what by when, and how both will know. Typed for the other side it is offered to them."""

    owner = forms.ChoiceField(label=_("Who"), initial="me", widget=forms.RadioSelect)
    action = forms.CharField(
        label=_("Does what"), max_length=ACTION, help_text=_("One action. Begin with the verb.")
    )
    date = forms.DateField(label=_("By"), widget=_picker())
    how_known = forms.CharField(
        label=_("How you will both know it is done"), max_length=HOW_KNOWN, required=False
    )
    cue_on = forms.DateField(
        label=_("Remind me on"),
        widget=_picker(),
        required=False,
        help_text=_("The day you mean to begin, for what you take on yourself. Only you see it."),
    )
    placement = forms.UUIDField(required=False, widget=forms.HiddenInput)
    client_key = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, other: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["owner"].choices = [("me", _("I")), ("other", other)]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any] | None:
        if self.cleaned_data.get("cue_on") and self.cleaned_data.get("owner") == "other":
            self.add_error(
                "cue_on", _("Only for what you take on yourself: leave it empty, or say that you do it.")
            )
        return super().clean()


class CueForm(Form):
    """The day on which its owner means to begin, or none."""

    cue_on = forms.DateField(
        label=_("Remind me on"),
        widget=_picker(),
        required=False,
        help_text=_("The day you mean to begin, or empty for none. Only you see it."),
    )


class DateForm(Form):
    """Another date for one's own commitment. What is said about it is shared."""

    date = forms.DateField(label=_("New date"), widget=_picker())
    reason = forms.CharField(
        label=_("Why it needs another date"),
        max_length=200,
        required=False,
        help_text=_("About the work, not about anyone’s private life. The other side reads it."),
    )
    basis = forms.CharField(
        label=_("What makes the new date likely"),
        max_length=200,
        required=False,
        help_text=_("Shared as well."),
    )
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1)


class ForecastForm(Form):
    """Whether its owner expects to make the date."""

    forecast = forms.ChoiceField(label=_("The date"), choices=Commitment.Forecast.choices)
