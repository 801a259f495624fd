"""Forms of the logbook."""

from __future__ import annotations

import datetime as dt
from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext_lazy as _

from oneonone.models import LogbookEntry, ReasonCode
from oneonone.models.base import TITLE, WORDS
from oneonone.selectors.private.logbook_entry import PROMPTS
from oneonone.services.private.logbook import EVIDENCE_MOST
from oneonone.web.base_forms import Form
from oneonone.web.private.day_words import DayInWordsField

NOTHING = ("", "–")
KINDS = [(kind.value, kind.label) for kind in LogbookEntry.Kind]
DETAIL_CHOICES: dict[str, list[tuple[str, Any]]] = {
    "in_the_way": [NOTHING, *ReasonCode.choices],
    "solved": [NOTHING, *LogbookEntry.Solved.choices],
    "wanted": [NOTHING, *LogbookEntry.Wanted.choices],
    "can_wait": [NOTHING, *LogbookEntry.CanWait.choices],
}


class CaptureForm(Form):
    """One line, from any page. ``today`` is the person's own day."""

    line = forms.CharField(label=_("Log it while it is fresh"), max_length=TITLE)
    kind = forms.ChoiceField(
        label=_("Kind"),
        choices=KINDS,
        initial=LogbookEntry.Kind.ACHIEVEMENT.value,
        widget=forms.RadioSelect,
    )
    event_on = DayInWordsField(
        label=_("When it happened"),
        initial=_("today"),
        help_text=_("Such as: yesterday, last Tuesday, 12 Nov."),
    )
    client_key = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, today: dt.date, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {}).setdefault("client_key", uuid4())
        super().__init__(*args, **kwargs)
        self.fields["event_on"].today = today  # type: ignore[attr-defined]  # a DayInWordsField


class EntryForm(CaptureForm):
    """Everything an entry can hold. The prompts follow the kind; those of another kind are left out."""

    revision = forms.IntegerField(widget=forms.HiddenInput, min_value=1, required=False)

    def __init__(self, *args: Any, kind: str, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, today=today, **kwargs)
        self.fields["line"].label = _("In one line")
        for name, label in PROMPTS[kind].items():
            self.fields[name] = _detail_field(name, label)

    @property
    def details(self) -> dict[str, str]:
        """What was typed below the line, by prompt."""
        return {name: self.cleaned_data.get(name, "") for name in PROMPTS[self.cleaned_data["kind"]]}

    @property
    def prompts(self) -> list[forms.BoundField]:
        """The fields below the line."""
        return [self[name] for name in self.fields if name not in _FRAME]


_FRAME = frozenset({"line", "kind", "event_on", "client_key", "revision"})


def _detail_field(name: str, label: Any) -> forms.Field:
    if name in DETAIL_CHOICES:
        return forms.ChoiceField(label=label, required=False, choices=DETAIL_CHOICES[name])
    if name == "evidence":
        return forms.CharField(
            label=label,
            required=False,
            max_length=EVIDENCE_MOST,
            widget=forms.URLInput,
            help_text=_("A whole address that starts with https://"),
        )
    return forms.CharField(
        label=label, required=False, max_length=WORDS, widget=forms.Textarea(attrs={"rows": 2})
    )


class BringForm(Form):
    """What becomes shared of an entry: exactly this text, and nothing else."""

    title = forms.CharField(label=_("Topic, as both of you read it"), max_length=TITLE)
    detail = forms.CharField(
        label=_("More, if you want to share more"),
        required=False,
        max_length=WORDS,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    line = forms.ChoiceField(label=_("One-on-one with"))
    client_key = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, lines: list[tuple[str, str]], **kwargs: Any) -> None:
        kwargs.setdefault("initial", {}).setdefault("client_key", uuid4())
        super().__init__(*args, **kwargs)
        choice = self.fields["line"]
        choice.choices = lines  # type: ignore[attr-defined]  # a ChoiceField
        if len(lines) == 1:
            choice.widget = forms.HiddenInput()
            choice.initial = lines[0][0]


class FindForm(Form):
    """What is looked for among one's own entries. Sent in a form's body: no address holds the words."""

    words = forms.CharField(label=_("Words"), required=False, max_length=TITLE)
    kind = forms.ChoiceField(
        label=_("Kind"), required=False, choices=[("", _("all kinds")), *LogbookEntry.Kind.choices]
    )
    month = forms.DateField(
        label=_("Month"),
        required=False,
        input_formats=["%Y-%m"],
        widget=forms.DateInput(attrs={"type": "month"}, format="%Y-%m"),
        error_messages={"invalid": _("That is not a month. One such as 2026-11 is accepted.")},
    )
    not_brought = forms.BooleanField(label=_("Only those not yet brought"), required=False)
