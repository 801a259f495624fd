"""Forms about one meeting."""

from __future__ import annotations

import datetime as dt
from typing import Any
from uuid import UUID

from django import forms
from django.utils.translation import gettext_lazy as _

from oneonone.web.forms.base import Form


class InvitationForm(Form):
    """A word of the manager's own with the question for topics."""

    words = forms.CharField(
        label=_("A word of your own"),
        required=False,
        max_length=500,
        help_text=_("One line. It is shown on this page to both of you, and is in no mail."),
    )


class MoveMeetingForm(Form):
    """Another day and time, in the zone that the meeting was agreed in."""

    day = forms.DateField(label=_("Day"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    time = forms.TimeField(label=_("Time"), widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))


class HeldForm(Form):
    """Whether the two met, and on which day. The day only matters for a yes."""

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
            self.add_error("day", _("The day you met on."))
        return said

    @property
    def day_said(self) -> dt.date:
        day: dt.date = self.cleaned_data["day"]
        return day

    @property
    def heard(self) -> list[UUID]:
        return [UUID(pk) for pk in self.cleaned_data.get("discussed", ())]


class GoOnForm(Form):
    """Where to go from here. ``version`` is the meeting's as the page was read."""

    to = forms.UUIDField(required=False)
    continues = forms.BooleanField(required=False)
    version = forms.IntegerField(min_value=1)


class ReadForm(Form):
    """The number of the order that was on the page."""

    number = forms.IntegerField(min_value=1)
