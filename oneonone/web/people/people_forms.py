"""Forms about oneself: joining, the profile, days away."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.contrib.auth import password_validation
from django.utils.dates import WEEKDAYS
from django.utils.translation import gettext_lazy as _

from accounts import places
from accounts.models import Person
from accounts.models.person import NAME_LENGTH
from accounts.services.people import Profile
from oneonone.models.base import NAME
from oneonone.selectors.notices.mail_wishes import SUBJECTS, Wishes
from oneonone.web.base_forms import Form

NEW_PASSWORD = {"autocomplete": "new-password"}
DAY = {"type": "date"}
CLOCK = {"type": "time"}
ZONE_HELP = _("Where you usually are. You can change it later in the settings.")


def zone_choices() -> list[tuple[str, list[tuple[str, str]]]]:
    """The time zones by region, as they are looked for: the place first."""
    regions: dict[str, list[tuple[str, str]]] = {}
    for zone in sorted(places.zones()):
        region, _slash, place = zone.partition("/")
        regions.setdefault(region if place else str(_("Others")), []).append(
            (zone, (place or region).replace("_", " "))
        )
    return sorted(regions.items())


def offer_zone_of_browser(form: Form) -> None:
    """Let the browser's own zone stand in the field ``zone`` of a new form, in place of its initial one.

    Without script the initial one stays. What was typed is left alone.
    """
    if not form.is_bound:
        form.fields["zone"].widget.attrs["data-zone-of-browser"] = ""


class PasswordMixin(Form):
    """A new password field. It is validated by the form, so that the other fields keep their values."""

    password = forms.CharField(
        label=_("Password"),
        strip=False,
        max_length=256,
        widget=forms.PasswordInput(attrs=NEW_PASSWORD, render_value=False),
        help_text=_("At least 15 characters. Several words together are easy to remember and hard to guess."),
    )

    def person(self) -> Person:
        """Return the owner of the password. It must not resemble their name or address."""
        raise NotImplementedError

    def clean(self) -> dict[str, Any]:
        """Check the password against the rules, all of them at once."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if cleaned.get("password"):
            try:
                password_validation.validate_password(cleaned["password"], self.person())
            except forms.ValidationError as errors:
                self.add_error("password", errors)
        return cleaned


class NewPasswordForm(PasswordMixin):
    """A new password for somebody who holds a link."""

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._person = person
        self.fields["password"].label = _("New password")

    def person(self) -> Person:
        """Whose link it is."""
        return self._person


class JoinForm(PasswordMixin):
    """Somebody new accepts an invitation: the address is given by it."""

    name = forms.CharField(
        label=_("Your name"), max_length=NAME_LENGTH, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    zone = forms.ChoiceField(label=_("Time zone"), choices=zone_choices, help_text=ZONE_HELP)

    field_order = ("name", "password", "zone")

    def __init__(self, *args: Any, email: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.email = email
        offer_zone_of_browser(self)

    def person(self) -> Person:
        """The person to be."""
        return Person(email=self.email, name=self.cleaned_data.get("name", ""))


class SetUpForm(PasswordMixin):
    """The first administrator and the organisation's name."""

    organisation = forms.CharField(
        label=_("Name of the organisation"),
        max_length=NAME,
        help_text=_("Shown at the top of every page."),
    )
    name = forms.CharField(
        label=_("Your name"), max_length=NAME_LENGTH, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    email = forms.EmailField(
        label=_("Your e-mail address"),
        max_length=254,
        help_text=_("You sign in with it."),
        widget=forms.EmailInput(attrs={"autocomplete": "username"}),
    )
    zone = forms.ChoiceField(
        label=_("Time zone"), choices=zone_choices, initial="Europe/London", help_text=ZONE_HELP
    )

    field_order = ("organisation", "name", "email", "password", "zone")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_zone_of_browser(self)

    def person(self) -> Person:
        """The person to be."""
        return Person(email=self.cleaned_data.get("email", ""), name=self.cleaned_data.get("name", ""))


class ProfileForm(Form):
    """What a person says of themselves."""

    name = forms.CharField(
        label=_("Name"), max_length=NAME_LENGTH, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    zone = forms.ChoiceField(
        label=_("Time zone"),
        choices=zone_choices,
        help_text=_(
            "Your own times, such as quiet hours, are in this zone. A one-on-one keeps its own zone."
        ),
    )
    working_week = forms.MultipleChoiceField(
        label=_("Working days"),
        choices=[(str(number), name) for number, name in WEEKDAYS.items()],
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Choose at least one day of work.")},
    )
    country = forms.ChoiceField(label=_("Public holidays of"), required=False)
    subdivision = forms.ChoiceField(
        label=_("Part of the country"),
        required=False,
        help_text=_("To choose a part of another country, save that country first."),
    )
    single_keys = forms.BooleanField(
        label=_("Shortcuts of a single key"),
        required=False,
        help_text=_("Turn them off if keys are pressed by accident, or by speech."),
    )
    wants_mail = forms.BooleanField(
        label=_("Send notices by mail"),
        required=False,
        help_text=_(
            "You see notices in the app in any case. Mails contain a link and times, never what was written."
        ),
    )
    quiet_from = forms.TimeField(label=_("Quiet from"), widget=forms.TimeInput(attrs=CLOCK, format="%H:%M"))
    quiet_to = forms.TimeField(
        label=_("Quiet until"),
        widget=forms.TimeInput(attrs=CLOCK, format="%H:%M"),
        help_text=_("No reminder is sent in these hours."),
    )

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._kept = person.country
        country = self.data.get("country", "") if self.is_bound else person.country
        self.fields["country"].choices = [("", _("none")), *places.country_names()]  # type: ignore[attr-defined]
        parts = {*places.subdivision_names(country), *places.subdivision_names(person.country)}
        self.fields["subdivision"].choices = [  # type: ignore[attr-defined]
            ("", _("all of it")),
            *sorted(parts, key=lambda part: part[1]),
        ]

    @classmethod
    def of(cls, person: Person) -> ProfileForm:
        """The form as it stands for this person."""
        return cls(
            person=person,
            initial={
                "name": person.name,
                "zone": person.zone,
                "working_week": [str(day) for day in range(7) if person.working_week[day] == "1"],
                "country": person.country,
                "subdivision": person.subdivision,
                "wants_mail": person.wants_mail,
                "single_keys": person.single_keys,
                "quiet_from": person.quiet_from,
                "quiet_to": person.quiet_to,
            },
        )

    def clean(self) -> dict[str, Any]:
        """Clear the part of the country when the country has changed."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        country = cleaned.get("country", "")
        left = country != self._kept
        if left and cleaned.get("subdivision") not in places.countries().get(country, frozenset()):
            cleaned["subdivision"] = ""
        return cleaned

    def profile(self) -> Profile:
        """What was typed, as the service takes it."""
        data = self.cleaned_data
        week = "".join("1" if str(day) in data["working_week"] else "0" for day in range(7))
        return Profile(
            name=data["name"],
            zone=data["zone"],
            working_week=week,
            country=data["country"],
            subdivision=data["subdivision"],
            wants_mail=data["wants_mail"],
            single_keys=data["single_keys"],
            quiet_from=data["quiet_from"],
            quiet_to=data["quiet_to"],
        )


class MailForm(Form):
    """When the day's mail of reminders goes, and what it may hold."""

    digest_at = forms.TimeField(
        label=_("Send the day's mail at"),
        widget=forms.TimeInput(attrs=CLOCK, format="%H:%M"),
        help_text=_("At most one mail of reminders a day: at this time, or earlier if you meet before it."),
    )
    mail_of = forms.MultipleChoiceField(
        label=_("Send mail about"),
        required=False,
        choices=[
            ("topics", _("topics that are asked for")),
            ("agendas", _("agendas")),
            ("today", _("a one-on-one that day")),
            ("changes", _("one-on-ones moved, added or called off")),
            ("answers", _("proposals and questions")),
            ("commitments", _("commitments")),
            ("records", _("records, and meetings that nobody closed")),
            ("interval", _("an interval that runs out")),
        ],
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Mails about your account come in any case."),
    )

    @classmethod
    def of(cls, wishes: Wishes) -> MailForm:
        """The form as it stands for these wishes."""
        wanted = [subject for subject in SUBJECTS if subject not in wishes.off]
        return cls(initial={"digest_at": wishes.digest_at, "mail_of": wanted})

    def off(self) -> list[str]:
        """What was not chosen."""
        return [subject for subject in SUBJECTS if subject not in self.cleaned_data["mail_of"]]


class DaysAwayForm(Form):
    """Days on which one is away. No reason is asked for."""

    first = forms.DateField(label=_("First day"), widget=forms.DateInput(attrs=DAY, format="%Y-%m-%d"))
    last = forms.DateField(
        label=_("Last day"),
        required=False,
        widget=forms.DateInput(attrs=DAY, format="%Y-%m-%d"),
        help_text=_("Leave empty for a single day."),
    )

    def days(self) -> tuple[dt.date, dt.date]:
        """First and last day, both included."""
        first: dt.date = self.cleaned_data["first"]
        return first, self.cleaned_data["last"] or first
