"""The filter of the cadence page."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from oneonone.models.base import NAME
from oneonone.selectors.cadence import SOON, Wanted
from oneonone.web.forms.base import Form


class FilterForm(Form):
    """Which lines to show. Read from the address, so that a filtered page can be kept and sent on."""

    STANDINGS = [
        ("", _("any")),
        ("over", _("overdue")),
        ("never met", _("never met")),
        ("runs out", _("runs out")),
        (SOON, _("due in four weeks, nothing confirmed")),
        ("within", _("within")),
        ("paused", _("paused")),
    ]

    standing = forms.ChoiceField(label=_("State"), choices=STANDINGS, required=False)
    manager = forms.CharField(label=_("Manager"), max_length=NAME, required=False)
    name = forms.CharField(label=_("Report"), max_length=NAME, required=False)

    def wanted(self) -> Wanted:
        """What was asked for; what cannot be is left out of it, and said at its field."""
        self.is_valid()
        return Wanted(**{name: self.cleaned_data.get(name, "").strip() for name in self.fields})
