"""Forms about one meeting."""

from __future__ import annotations

import datetime as dt
from typing import Any
from uuid import UUID

from django import forms
from django.utils.translation import gettext_lazy as _

from oneonone.web.base_forms import Form


class InvitationForm(Form):
    """The manager's own message in the invitation for topics."""

    words = forms.CharField(
        label=_("Your message"),
        required=False,
        max_length=500,
        help_text=_("One line. Both of you see it on the agenda; it is not mailed."),
    )


class MoveMeetingForm(Form):
    """Another day and time, in the meeting's time zone."""

    day = forms.DateField(label=_("Day"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    time = forms.TimeField(label=_("Time"), widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))


class HeldForm(Form):
    """Whether the two met, and on which day. The day is required for a yes only."""

    held = forms.ChoiceField(
        label=_("Did you meet?"),
        choices=[("yes", _("Yes, we met")), ("no", _("No, we did not"))],
        widget=forms.RadioSelect,
    )
    day = forms.DateField(
        label=_("On"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    discussed = forms.MultipleChoiceField(
        label=_("What you discussed"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("What is not ticked is kept for next time."),
    )

    def __init__(self, *args: Any, topics: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if topics:
            self.fields["discussed"].choices = topics  # type: ignore[attr-defined]
        else:
            del self.fields["discussed"]

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or {}
        if said.get("held") == "yes" and not said.get("day") and "day" not in self.errors:
            self.add_error("day", _("Enter the day you met on."))
        return said

    @property
    def day_said(self) -> dt.date:
        day: dt.date = self.cleaned_data["day"]
        return day

    @property
    def heard(self) -> list[UUID]:
        return [UUID(pk) for pk in self.cleaned_data.get("discussed", ())]


class GoOnForm(Form):
    """The next topic, or none for the reading back. ``version`` is the meeting's version on the page."""

    to = forms.UUIDField(required=False)
    continues = forms.BooleanField(required=False)
    version = forms.IntegerField(min_value=1)


class ReadForm(Form):
    """The number of the order that the page showed."""

    number = forms.IntegerField(min_value=1)
