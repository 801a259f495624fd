"""The form that looks for words in one's own notes."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from oneonone.selectors.private import note_search
from oneonone.web.base_forms import Form

MOST = 100
LEAST = 2


class SearchForm(Form):
    """The words to search for. A note has to contain all of them, in any order."""

    words = forms.CharField(
        label=_("Search for"),
        max_length=MOST,
        # Autocomplete is off, so that the browser does not suggest the words to the next user.
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
        help_text=_(
            "One word or several. Finds notes that contain all of them, in capital or small letters."
        ),
    )

    def clean_words(self) -> list[str]:
        """The words one by one."""
        words: list[str] = self.cleaned_data["words"].split()
        if sum(len(note_search.fold(word)) for word in words) < LEAST:
            raise forms.ValidationError(_("Enter at least two letters or digits."), code="too_short")
        return words
