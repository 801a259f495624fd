"""The form that looks for words in one's own notes."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from oneonone.selectors import ownwords
from oneonone.web.forms.base import Form

MOST = 100
LEAST = 2


class SearchForm(Form):
    """Words that have to stand in a note, all of them, in any order."""

    words = forms.CharField(
        label=_("Search for"),
        max_length=MOST,
        # Nor does the browser keep the words to propose them to whoever sits there next.
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
        help_text=_(
            "One word or several. Finds notes that contain all of them, in capital or small letters."
        ),
    )

    def clean_words(self) -> list[str]:
        """The words one by one."""
        words: list[str] = self.cleaned_data["words"].split()
        if sum(len(ownwords.fold(word)) for word in words) < LEAST:
            raise forms.ValidationError(_("Enter at least two letters or digits."), code="too_short")
        return words
