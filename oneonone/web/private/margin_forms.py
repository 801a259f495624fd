"""Forms of the margin."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from oneonone.models.base import WORDS
from oneonone.web.base_forms import Form
from oneonone.web.markup_help import LIGHT_MARKUP


class NoteForm(Form):
    """A note of one's own. ``revision`` is the one that was read, 0 where nothing was written yet."""

    words = forms.CharField(
        label=_("Your note"),
        required=False,
        max_length=WORDS,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=LIGHT_MARKUP,
    )
    unclear = forms.BooleanField(label=_("Unclear: ask about it in the meeting"), required=False)
    revision = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
