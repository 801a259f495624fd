"""The form of the contacts: a note, and a row for each."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from oneonone.models import Contact, Organisation
from oneonone.models.base import NAME, WORDS
from oneonone.services.people.contacts import HOW, MOST_CONTACTS, Entry
from oneonone.web.base_forms import Form

EMPTY_ROWS = 3


class ContactsForm(Form):
    """The text above the contacts, and the version that was read."""

    note = forms.CharField(
        label=_("Above the list"),
        required=False,
        max_length=WORDS,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text=_(
            "For example, which written procedure applies and where to find it. Light markup works:"
            " *stress*, - a list, [a link](https://…)."
        ),
    )
    version = forms.IntegerField(widget=forms.HiddenInput)

    @classmethod
    def of(cls, organisation: Organisation) -> ContactsForm:
        """The form as it stands."""
        return cls(initial={"note": organisation.contacts_text, "version": organisation.version})


class ContactForm(Form):
    """One contact. Empty rows are ignored, so emptying a row removes the contact."""

    kind = forms.ChoiceField(label=_("For"), required=False, choices=[("", "–"), *Contact.Kind.choices])
    name = forms.CharField(label=_("Who"), required=False, max_length=NAME)
    how = forms.CharField(
        label=_("How to reach them"),
        required=False,
        max_length=HOW,
        help_text=_("Telephone, address, room, hours."),
    )

    def clean(self) -> dict[str, Any]:
        """All three or none."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        given = [bool(cleaned.get(field)) for field in ("kind", "name", "how")]
        if any(given):
            for field, label in (
                ("kind", _("Choose what this contact is for, or empty the row.")),
                ("name", _("Enter who it is, or empty the row.")),
                ("how", _("Enter how to reach them, or empty the row.")),
            ):
                if not cleaned.get(field) and field not in self.errors:
                    self.add_error(field, label)
        return cleaned


ContactRows = forms.formset_factory(
    ContactForm, extra=EMPTY_ROWS, max_num=MOST_CONTACTS, validate_max=True, absolute_max=MOST_CONTACTS
)


def rows_of(contacts: Sequence[Contact]) -> forms.BaseFormSet[ContactForm]:
    """The rows as they stand, and some empty ones."""
    return ContactRows(
        prefix="contacts",
        initial=[{"kind": contact.kind, "name": contact.name, "how": contact.how} for contact in contacts],
    )


def entries(rows: forms.BaseFormSet[ContactForm]) -> list[Entry]:
    """The rows that are filled in, as the service takes them."""
    filled = [row.cleaned_data for row in rows if row.cleaned_data.get("kind")]
    return [Entry(kind=row["kind"], name=row["name"], how=row["how"]) for row in filled]
