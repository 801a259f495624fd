"""Forms about reporting lines: who, how often, paused, met."""

from __future__ import annotations

import calendar
import datetime as dt
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from oneonone.models import Interval, Meeting, Side
from oneonone.models.base import NAME
from oneonone.services.meetings.intervals import LONGEST, SHORTEST, Terms
from oneonone.web.base_forms import Form
from oneonone.web.people.people_forms import zone_choices


def _day() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


def _clock() -> forms.TimeInput:
    return forms.TimeInput(attrs={"type": "time"}, format="%H:%M")


class IntervalForm(Form):
    """How often two people meet. The first day determines the weekday or the day of the month."""

    MONTH_DAYS = [
        ("weekday", _("the same weekday of the month, such as the first Tuesday")),
        ("last_weekday", _("the last such weekday of the month, such as the last Friday")),
        ("day", _("the same day of the month; in a short month, its last day")),
        ("last_working_day", _("the last working day of the month")),
        ("two_days", _("the same day of the month and the second day below")),
    ]

    # The fields that the page shows behind a disclosure.
    MORE = ("month_day", "second_day", "zone", "place", "call_link")

    every = forms.IntegerField(label=_("Every"), min_value=1, max_value=52, initial=2)
    unit = forms.ChoiceField(label=_("Weeks or months"), choices=Interval.Unit.choices)
    first_day = forms.DateField(
        label=_("First time on"),
        help_text=_(
            "If you meet every few weeks, you meet on this weekday. For months, choose the day under “More "
            "settings”."
        ),
        widget=_day(),
    )
    month_day = forms.ChoiceField(
        label=_("Day of the month"),
        choices=MONTH_DAYS,
        help_text=_("Only used if you meet every few months."),
    )
    second_day = forms.IntegerField(
        label=_("Second day of the month"),
        min_value=1,
        max_value=31,
        required=False,
        help_text=_("Only for two dates every month. 31 means the last day."),
    )
    time = forms.TimeField(label=_("At"), initial=dt.time(10), widget=_clock())
    minutes = forms.IntegerField(label=_("Length"), min_value=SHORTEST, max_value=LONGEST, initial=45)
    zone = forms.ChoiceField(
        label=_("Time zone"),
        choices=zone_choices,
        help_text=_("The time of day in this zone stays the same in summer and winter."),
    )
    place = forms.CharField(label=_("Place"), max_length=200, required=False)
    call_link = forms.CharField(label=_("Link for a call"), max_length=500, required=False)

    def __init__(self, *args: Any, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    @property
    def more_has_errors(self) -> bool:
        """Whether a field behind the disclosure was refused. The page then shows it opened."""
        return any(name in self.errors for name in self.MORE)

    def clean_first_day(self) -> dt.date:
        day: dt.date = self.cleaned_data["first_day"]
        if day < self.today:
            raise forms.ValidationError(_("That date has passed. Enter today or later."))
        return day

    def clean(self) -> dict[str, Any]:
        """Two dates a month need the second one."""
        said: dict[str, Any] = super().clean() or self.cleaned_data
        twice = said.get("unit") == Interval.Unit.MONTHS and said.get("month_day") == "two_days"
        if twice and said.get("second_day") is None and "second_day" not in self.errors:
            self.add_error("second_day", _("Enter a day from 1 to 31, at least a week from the first one."))
        return said

    def terms(self) -> Terms:
        """What the form says, as the services take it. Only after ``is_valid``."""
        said = self.cleaned_data
        return Terms(
            every=said["every"],
            unit=said["unit"],
            anchor=said["first_day"],
            time=said["time"],
            minutes=said["minutes"],
            zone=said["zone"],
            place=said["place"],
            call_link=said["call_link"],
            **_which_day(said["unit"], said["month_day"], said["first_day"], said["second_day"]),
        )

    @classmethod
    def initial_of(cls, interval: Interval, *, first_day: dt.date) -> dict[str, object]:
        """Return the initial values for an existing interval."""
        month_day = "day"
        if interval.last_working_day:
            month_day = "last_working_day"
        elif interval.ordinal is not None:
            month_day = "last_weekday" if interval.ordinal == -1 else "weekday"
        elif interval.second_day is not None:
            month_day = "two_days"
        return {
            "every": interval.every,
            "unit": interval.unit,
            "first_day": first_day,
            "month_day": month_day,
            "second_day": _other_day(interval, first_day),
            "time": interval.time,
            "minutes": interval.minutes,
            "zone": interval.zone,
            "place": interval.place,
            "call_link": interval.call_link,
        }


def _other_day(interval: Interval, first: dt.date) -> int | None:
    """Return the day of a twice-monthly interval that ``first`` is not on."""
    if interval.second_day is None:
        return None
    return interval.day if _day_meant(first) == interval.second_day else interval.second_day


def _day_meant(first: dt.date) -> int:
    """The day of the month that a date stands for; the last one of any month is day 31."""
    return 31 if first.day == calendar.monthrange(first.year, first.month)[1] else first.day


def _which_day(unit: str, month_day: str, first: dt.date, second_day: int | None) -> dict[str, Any]:
    """Return the day fields of the terms, derived from the first date."""
    if unit == Interval.Unit.WEEKS:
        return {"weekday": first.isoweekday()}
    if month_day == "weekday":
        return {"weekday": first.isoweekday(), "ordinal": (first.day - 1) // 7 + 1}
    if month_day == "last_weekday":
        return {"weekday": first.isoweekday(), "ordinal": -1}
    if month_day == "last_working_day":
        return {"last_working_day": True}
    if month_day == "two_days":
        return {"day": _day_meant(first), "second_day": second_day}
    return {"day": _day_meant(first)}


class InviteForm(Form):
    """Whom to invite to the other side of a new line."""

    client_key = forms.UUIDField(widget=forms.HiddenInput)
    name = forms.CharField(label=_("Name"), max_length=NAME)
    email = forms.EmailField(
        label=_("E-mail address"),
        help_text=_("Only the owner of this address can accept the invitation."),
    )
    side = forms.ChoiceField(
        label=_("They are"),
        choices=[(Side.REPORT.value, _("my report")), (Side.MANAGER.value, _("my manager"))],
        widget=forms.RadioSelect,
        initial=Side.REPORT.value,
    )


class PauseForm(Form):
    """The first and last day of a pause. There is no field for a reason."""

    first = forms.DateField(label=_("From"), widget=_day())
    last = forms.DateField(
        label=_("Until"), required=False, help_text=_("Leave empty to pause until you resume."), widget=_day()
    )


class MetForm(Form):
    """The day of a meeting that was held without the server."""

    day = forms.DateField(label=_("We met on"), widget=_day())


class WhichMeetingForm(MetForm):
    """The second step: was it the planned meeting nearest to that day?"""

    which = forms.ChoiceField(widget=forms.RadioSelect)
    discussed = forms.MultipleChoiceField(
        label=_("What you discussed"),
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text=_("What is not ticked is kept for next time."),
    )

    def __init__(
        self,
        *args: Any,
        meeting: Meeting | None,
        question: str,
        topics: list[tuple[str, str]],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        which = self.fields["which"]
        which.label = question
        choices = [("yes", _("Yes"))] if meeting is not None else []
        which.choices = [*choices, ("no", _("No, another one"))]  # type: ignore[attr-defined]
        self.fields["discussed"].choices = topics  # type: ignore[attr-defined]
        self.fields["day"].widget = forms.HiddenInput()
        if not topics:
            del self.fields["discussed"]


class ExtraForm(Form):
    """An extra meeting, in addition to the dates of the interval."""

    client_key = forms.UUIDField(widget=forms.HiddenInput)
    day = forms.DateField(label=_("On"), widget=_day())
    time = forms.TimeField(label=_("At"), initial=dt.time(10), widget=_clock())
    minutes = forms.IntegerField(label=_("Length"), min_value=SHORTEST, max_value=LONGEST, initial=30)
