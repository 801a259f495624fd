"""Forms about topics."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any
from uuid import UUID

from django import forms
from django.utils.translation import gettext_lazy as _

from oneonone.models import Importance, Topic
from oneonone.models.base import TITLE, WORDS
from oneonone.services.agenda.topics import Wording
from oneonone.web.base_forms import Form
from oneonone.web.markup_help import SHARED_LIGHT_MARKUP

KINDS = [
    (Topic.Kind.UPDATE.value, _("update")),
    (Topic.Kind.QUESTION.value, _("question")),
    (Topic.Kind.IDEA.value, _("idea")),
    (Topic.Kind.OBSTACLE.value, _("obstacle")),
    (Topic.Kind.ACHIEVEMENT.value, _("achievement")),
    (Topic.Kind.FEEDBACK.value, _("feedback")),
    (Topic.Kind.GROWTH.value, _("growth")),
]
OUTCOMES = [
    (Topic.Outcome.INFORM.value, _("that you both know")),
    (Topic.Outcome.ADVISE.value, _("advice")),
    (Topic.Outcome.DECIDE.value, _("a decision")),
    (Topic.Outcome.SOLVE.value, _("to solve it together")),
]
LEVELS = [
    (Importance.Level.FIRST.value, _("first")),
    (Importance.Level.IN_TURN.value, _("in turn")),
    (Importance.Level.IF_TIME.value, _("if time allows")),
]


class TopicLineForm(Form):
    """One line and a kind: everything else is the usual for that kind."""

    title = forms.CharField(label=_("A topic, in one line"), max_length=TITLE)
    kind = forms.ChoiceField(label=_("Kind"), choices=KINDS, initial=Topic.Kind.UPDATE.value)
    client_key = forms.UUIDField(widget=forms.HiddenInput)


class TopicForm(Form):
    """Everything a raiser can say of a topic."""

    title = forms.CharField(
        label=_("Topic"), max_length=TITLE, help_text=_("One line. Both of you read it, as you write it.")
    )
    kind = forms.ChoiceField(label=_("Kind"), choices=KINDS, initial=Topic.Kind.UPDATE.value)
    outcome_wanted = forms.ChoiceField(
        label=_("What you want from it"), choices=OUTCOMES, initial=Topic.Outcome.INFORM.value
    )
    minutes_wanted = forms.IntegerField(
        label=_("Minutes asked"),
        required=False,
        help_text=_("Left empty: the usual for its kind."),
    )
    minutes_least = forms.IntegerField(
        label=_("Least useful minutes"),
        required=False,
        help_text=_("With fewer it is better kept for next time. Left empty: half."),
    )
    detail = forms.CharField(
        label=_("More about it"),
        required=False,
        max_length=WORDS,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=SHARED_LIGHT_MARKUP,
    )
    after = forms.MultipleChoiceField(
        label=_("Only makes sense after"), required=False, widget=forms.CheckboxSelectMultiple
    )
    every_nth = forms.IntegerField(
        label=_("Comes back every so many one-on-ones"),
        required=False,
        help_text=_("From 1 to 26, for a standing topic. Left empty: it ends when it has been discussed."),
    )
    is_sensitive = forms.BooleanField(
        label=_("Delicate: neither first nor last, where that can be helped"), required=False
    )

    def __init__(self, *args: Any, others: Sequence[tuple[UUID, str]] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(str(pk), title) for pk, title in others]
        if choices:
            self.fields["after"].choices = choices  # type: ignore[attr-defined]
        else:
            del self.fields["after"]

    def wording(self) -> Wording:
        """What the form says, as the service takes it. Only after ``is_valid``."""
        said = self.cleaned_data
        return Wording(
            title=said["title"],
            kind=said["kind"],
            detail=said["detail"],
            outcome_wanted=said["outcome_wanted"],
            minutes_wanted=said["minutes_wanted"],
            minutes_least=said["minutes_least"],
            is_sensitive=said["is_sensitive"],
            every_nth=said["every_nth"],
        )

    def earlier(self) -> list[UUID]:
        """The topics that this one only makes sense after."""
        return [UUID(pk) for pk in self.cleaned_data.get("after", ())]


class NewTopicForm(TopicForm):
    """A topic that is not there yet, with what the raiser's side says of its importance."""

    importance = forms.ChoiceField(
        label=_("How much it matters to you"),
        choices=LEVELS,
        required=False,
        widget=forms.RadioSelect,
        help_text=_(
            "Both of you see it. Two topics of an agenda can be first to you. You can leave it open."
        ),
    )
    must = forms.BooleanField(label=_("Must be discussed (one topic of yours at a time)"), required=False)
    client_key = forms.UUIDField(widget=forms.HiddenInput)


class EditTopicForm(TopicForm):
    """A topic as it was read, with the version that was read."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1)


class ImportanceForm(Form):
    """How much a topic matters to the reader's side. Nothing is chosen for a side that has said nothing."""

    importance = forms.ChoiceField(label=_("To you it comes"), choices=LEVELS)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.initial.get("importance"):
            self.fields["importance"].choices = [("", _("nothing said yet")), *LEVELS]  # type: ignore[attr-defined]


class MoveForm(Form):
    """A topic moved by hand, so many places later (earlier when negative)."""

    places = forms.IntegerField(min_value=-240, max_value=240)

    def clean_places(self) -> int:
        places: int = self.cleaned_data["places"]
        if not places:
            raise forms.ValidationError(_("A number of places other than 0."))
        return places


END = "end"


class PlaceForm(Form):
    """The topic that one is moved to right before, or the end of the order."""

    place = forms.ChoiceField(label=_("Where to"), widget=forms.RadioSelect)

    def __init__(self, *args: Any, places: Sequence[tuple[str, str]] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].choices = places  # type: ignore[attr-defined]


class StartForm(Form):
    """The time at which a topic begins, whatever else is moved."""

    minute = forms.TimeField(
        label=_("Start at"), widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )

    def __init__(self, *args: Any, clock: Callable[[int], str], first: int, last: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.minutes = {clock(minute): minute for minute in range(last, first - 1, -1)}
        ends = {"first": clock(first), "last": clock(last)}
        self.fields["minute"].help_text = _("From %(first)s to %(last)s.") % ends
        self.accepted = _("Outside the minutes for topics: from %(first)s to %(last)s it can begin.") % ends

    def clean_minute(self) -> int | None:
        """The minute of the meeting that is meant, the first if a clock shows that time twice."""
        said = self.cleaned_data["minute"].strftime("%H:%M")
        if said not in self.minutes:
            raise forms.ValidationError(self.accepted)
        return self.minutes[said]


class BringInForm(StartForm):
    """A topic brought in, at a time if one is said."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["minute"].required = False

    def clean_minute(self) -> int | None:
        """The minute that is meant; None when nothing was said."""
        return None if self.cleaned_data["minute"] is None else super().clean_minute()
