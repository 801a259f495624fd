"""Forms of the record."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from oneonone.models import RecordLine
from oneonone.models.base import WORDS
from oneonone.web.base_forms import Form
from oneonone.web.markup_help import LIGHT_MARKUP

KINDS = [(RecordLine.Kind.SAID.value, _("said")), (RecordLine.Kind.DECIDED.value, _("decided"))]


class LineForm(Form):
    """One line of the record, at a topic or at the meeting as a whole."""

    kind = forms.ChoiceField(
        label=_("This was"), choices=KINDS, initial=RecordLine.Kind.SAID.value, widget=forms.RadioSelect
    )
    words = forms.CharField(
        label=_("A line for the record"),
        max_length=WORDS,
        widget=forms.Textarea(attrs={"rows": 1}),
        help_text=LIGHT_MARKUP,
    )
    placement = forms.UUIDField(required=False, widget=forms.HiddenInput)
    client_key = forms.UUIDField(widget=forms.HiddenInput)


class EditLineForm(Form):
    """The words of one's own line, with the version that was read."""

    words = forms.CharField(
        label=_("Your line"),
        max_length=WORDS,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=LIGHT_MARKUP,
    )
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1)


class AdditionForm(Form):
    """Something added to a record that is frozen."""

    words = forms.CharField(
        label=_("What you add"),
        max_length=WORDS,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=LIGHT_MARKUP,
    )
    client_key = forms.UUIDField(widget=forms.HiddenInput)
