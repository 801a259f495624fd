"""The form of an administrator's line: two people found by name or address, or one and somebody new."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django import forms
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from accounts.models import Person
from accounts.models.person import NAME_LENGTH
from oneonone.models.base import NAME
from oneonone.selectors.people import people
from oneonone.web.base_forms import Form

# The number of matches that are offered. With more matches the form asks for more of the name.
OFFERED = 10
SIDES = ("manager", "report")
WHICH = _("Choose who is meant.")
MORE = _("More than 10 people fit. Choose one of these, or type more of the name.")
NOBODY = _("Nobody with an account has this name or address.")
MANAGER = _("Enter the name or address of somebody who has an account.")
WHO = _("Enter either somebody who has an account, or the name and address of somebody new.")


def _words(label: Any, help_text: Any, *, missing: Any = "") -> forms.CharField:
    return forms.CharField(
        label=label,
        max_length=NAME_LENGTH,
        required=False,
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
        help_text=help_text,
        error_messages={"required": missing},
    )


def _which(label: Any) -> forms.ModelChoiceField[Person]:
    return forms.ModelChoiceField(
        label=label,
        queryset=Person.objects.none(),
        required=False,
        empty_label=None,
        widget=forms.RadioSelect,
    )


class PairForm(Form):
    """An administrator's line between two people: both have accounts, or the report is invited.

    People are found by a part of the name or address. A full match is used at once; else the matches are
    offered, and one is chosen (``manager``, ``report``) when the form is sent again.
    """

    client_key = forms.UUIDField(widget=forms.HiddenInput)
    manager_words = _words(_("Manager"), _("A part of the name, or the address."), missing=MANAGER)
    manager = _which(_("Which manager?"))
    report_words = _words(
        _("Report"), _("A part of the name, or the address. Leave it empty to invite somebody new below.")
    )
    report = _which(_("Which report?"))
    name = forms.CharField(label=_("Name of somebody new"), max_length=NAME, required=False)
    email = forms.EmailField(label=_("Their e-mail address"), required=False)
    starts_on = forms.DateField(
        label=_("Line begins on"),
        required=False,
        help_text=_("Leave empty for today."),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )

    def __init__(self, *args: Any, reader: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.found: dict[str, list[Person]] = {}
        # Somebody chosen before does not have to be typed again.
        self.fields["manager_words"].required = not self.data.get("manager")
        for side in SIDES:
            self.found[side] = self._find(reader, side)
            which = self.fields[side]
            which.required = bool(self.found[side])
            which.error_messages["required"] = MORE if len(self.found[side]) > OFFERED else WHICH
            ids = [person.pk for person in self.found[side][:OFFERED]]
            which.queryset = people.people(reader).filter(pk__in=ids)  # type: ignore[attr-defined]
            which.label_from_instance = _name_and_address  # type: ignore[attr-defined]

    def _find(self, reader: Person, side: str) -> list[Person]:
        """Those who fit what was typed, one more than are offered; without words, whoever was chosen."""
        words = self._words(side)
        if not words:
            chosen = _uuid(self.data.get(side, ""))
            return list(people.people(reader).filter(is_active=True, pk=chosen)) if chosen else []
        fitting = people.people(reader, words=words).filter(is_active=True)
        whole = fitting.filter(Q(email__iexact=words) | Q(name__iexact=words))
        return list(whole[: OFFERED + 1]) or list(fitting[: OFFERED + 1])

    def _words(self, side: str) -> str:
        """What was typed to find somebody by; no name or address has characters that cannot be printed."""
        typed = self.data.get(f"{side}_words", "")[:NAME_LENGTH]
        return "".join(filter(str.isprintable, typed)).strip()

    @property
    def offers_managers(self) -> bool:
        """Whether the page offers managers to choose from."""
        return bool(self.found["manager"])

    @property
    def offers_reports(self) -> bool:
        """Whether the page offers reports to choose from."""
        return bool(self.found["report"])

    def clean(self) -> dict[str, Any]:
        """Use an unambiguous match; else say what has to be chosen or typed."""
        said: dict[str, Any] = super().clean() or self.cleaned_data
        invited = bool(said.get("name")) and bool(said.get("email"))
        for side in SIDES:
            if f"{side}_words" not in self.errors:
                self._settle(side, said, may_be_empty=side == "report" and invited)
        if invited and (self._words("report") or said.get("report")):
            self.add_error("report_words", WHO)
        return said

    def _settle(self, side: str, said: dict[str, Any], *, may_be_empty: bool) -> None:
        found, words = self.found[side], self._words(side)
        if len(found) == 1 and words.casefold() in (found[0].name.casefold(), found[0].email):
            said[side] = found[0]
            self.errors.pop(side, None)
        if said.get(side) is not None or (may_be_empty and not words and not self.data.get(side)):
            return
        if not found:
            self.errors.pop(side, None)
            self.add_error(f"{side}_words", NOBODY if words else WHO if side == "report" else MANAGER)


def _uuid(typed: str) -> UUID | None:
    try:
        return UUID(typed)
    except ValueError:
        return None


def _name_and_address(person: Person) -> str:
    return f"{person.name} ({person.email})"
