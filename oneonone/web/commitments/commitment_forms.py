"""Forms about commitments."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from oneonone.models import Commitment, ReasonCode
from oneonone.models.base import TITLE
from oneonone.models.followthrough import ACTION, HOW_KNOWN
from oneonone.services.commitments.plans import MOST
from oneonone.web.base_forms import Form


def _picker() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class TakeOnForm(Form):
    """Who does what by when, and how both will know. A commitment typed for the other side is an offer."""

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
        help_text=_("The day you want to start, for your own commitments. Only you see it."),
    )
    placement = forms.UUIDField(required=False, widget=forms.HiddenInput)
    client_key = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, other: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["owner"].choices = [("me", _("I")), ("other", other)]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any] | None:
        if self.cleaned_data.get("cue_on") and self.cleaned_data.get("owner") == "other":
            self.add_error(
                "cue_on", _("Only for your own commitments: leave it empty, or choose yourself as the owner.")
            )
        return super().clean()


class CueForm(Form):
    """The day on which the owner wants a reminder, or none."""

    cue_on = forms.DateField(
        label=_("Remind me on"),
        widget=_picker(),
        required=False,
        help_text=_("The day you want to start. Leave it empty for no reminder. Only you see it."),
    )


class DateForm(Form):
    """A new date for the reader's own commitment. The reason is shared with the other side."""

    date = forms.DateField(label=_("New date"), widget=_picker())
    reason = forms.CharField(
        label=_("Why the date changes"),
        max_length=200,
        required=False,
        help_text=_("About the work, not about anyone’s private life. The other side reads it."),
    )
    basis = forms.CharField(
        label=_("Why the new date is realistic"),
        max_length=200,
        required=False,
        help_text=_("The other side reads this too."),
    )
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1)


class ForecastForm(Form):
    """Whether the owner expects to meet the date."""

    forecast = forms.ChoiceField(label=_("The date"), choices=Commitment.Forecast.choices)


def _words(label: Any, rows: int = 1, **more: Any) -> forms.CharField:
    widget = forms.Textarea(attrs={"rows": rows}) if rows > 1 else forms.TextInput()
    return forms.CharField(label=label, required=False, max_length=MOST, widget=widget, **more)


class NotDoneForm(Form):
    """What got in the way, and what will be different. All of it but the new date is the owner's own."""

    reason = forms.ChoiceField(label=_("What got in the way"), choices=ReasonCode.choices)
    text = _words(_("More about it"), 2, help_text=_("Left empty for a personal reason."))
    next_step = _words(_("The next small step"))
    when = _words(_("When …"), help_text=_("A day, a place or an event."))
    then = _words(_("… I will"))
    help_wanted = _words(_("Help I want"))
    help_from = _words(_("From whom"))
    date = forms.DateField(
        label=_("New date"),
        required=False,
        widget=_picker(),
        help_text=_("The other side sees it. The first date stays beside it."),
    )
    basis = _words(_("What the new date is based on"), help_text=_("How long did the last such thing take?"))
    revision = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1)


class TellForm(Form):
    """Exactly what the other side is told about what one waits for."""

    title = forms.CharField(label=_("Topic, as both of you read it"), max_length=TITLE)
    client_key = forms.UUIDField(widget=forms.HiddenInput)
