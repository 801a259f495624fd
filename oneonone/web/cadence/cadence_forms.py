"""The filter of the cadence page."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from oneonone.models.base import NAME
from oneonone.selectors.cadence.cadence import SOON, Wanted
from oneonone.web.base_forms import Form


class FilterForm(Form):
    """The filter of the lines.

    It is in the query string, so that a filtered page can be bookmarked and shared.
    """

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
        """Return the filter. Invalid values are left out and reported at their field."""
        self.is_valid()
        return Wanted(**{name: self.cleaned_data.get(name, "").strip() for name in self.fields})
