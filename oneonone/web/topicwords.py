"""What a page says about a topic, a box and a commitment, in whole phrases."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from oneonone.models import Importance, Placement, Topic
from oneonone.selectors.cards import TopicCard
from oneonone.selectors.changes import Change

Level = Importance.Level


def kind(card: TopicCard) -> str:
    """ "Obstacle" """
    return {
        Topic.Kind.UPDATE: _("Update"),
        Topic.Kind.IDEA: _("Idea"),
        Topic.Kind.QUESTION: _("Question"),
        Topic.Kind.OBSTACLE: _("Obstacle"),
        Topic.Kind.ACHIEVEMENT: _("Achievement"),
        Topic.Kind.FEEDBACK: _("Feedback"),
        Topic.Kind.GROWTH: _("Growth"),
    }[Topic.Kind(card.kind)]


def outcome_wanted(card: TopicCard) -> str:
    """ "wants a decision" """
    return {
        Topic.Outcome.DECIDE: _("wants a decision"),
        Topic.Outcome.ADVISE: _("wants advice"),
        Topic.Outcome.SOLVE: _("wants to be solved together"),
        Topic.Outcome.INFORM: _("for information"),
    }[Topic.Outcome(card.outcome_wanted)]


def level(value: str) -> str:
    """An importance in the words both sides use."""
    return {
        Level.FIRST: _("first"),
        Level.IN_TURN: _("in turn"),
        Level.IF_TIME: _("if time allows"),
    }[Level(value)]


def about(card: TopicCard) -> str:
    """ "Obstacle, wants a decision. Must be discussed. Kept twice." """
    said = [_("%(kind)s, %(outcome)s.") % {"kind": kind(card), "outcome": outcome_wanted(card)}]
    if card.is_must:
        again = card.unheard and card.is_undecided
        said.append(_("Must be discussed again.") if again else _("Must be discussed."))
    if card.unheard:
        said.append(
            ngettext("Not reached once.", "Not reached %(n)d times.", card.unheard) % {"n": card.unheard}
        )
    if card.every_nth:
        said.append(
            ngettext("Comes back at every one-on-one.", "Comes back every %(n)d one-on-ones.", card.every_nth)
            % {"n": card.every_nth}
        )
    if card.is_late:
        said.append(_("Asked for after the order was issued."))
    return " ".join(said)


def whose(card: TopicCard, other: str) -> str:
    """ "Ines brings this" """
    if card.side == "both":
        return _("You both bring this")
    return _("You bring this") if card.is_yours else _("%(other)s brings this") % {"other": other}


def brought(card: TopicCard, other: str) -> str:
    """The same once the meeting is over."""
    if card.side == "both":
        return _("You both brought this")
    return _("You brought this") if card.is_yours else _("%(other)s brought this") % {"other": other}


def beside(card: TopicCard, other: str) -> str:
    """What the side that did not raise it says of its importance, in the half opposite."""
    if card.is_yours:
        return _("%(other)s: %(level)s") % {"other": other, "level": level(card.theirs)}
    return _("you: %(level)s") % {"level": level(card.yours)}


def own_level(card: TopicCard, other: str) -> str:
    """What the side that raised it says, where that is more than silence."""
    said = card.yours if card.is_yours else card.theirs
    return "" if said == Level.IN_TURN else _says(said, by_you=card.is_yours, other=other)


def others_level(card: TopicCard, other: str) -> str:
    """What the side that did not raise it says, where that is more than silence."""
    said = card.theirs if card.is_yours else card.yours
    return "" if said == Level.IN_TURN else _says(said, by_you=not card.is_yours, other=other)


def _says(said: str, *, by_you: bool, other: str) -> str:
    if by_you:
        return _("You say: %(level)s.") % {"level": level(said)}
    return _("%(other)s says: %(level)s.") % {"other": other, "level": level(said)}


def change(found: Change | None) -> str:
    """What is different from the order that the reader last read."""
    if found is None:
        return ""
    return {
        "new": _("New since you read the order."),
        "moved": _("Moved since you read the order."),
        "longer": _("Longer than the %(n)d minutes it had when you read the order."),
        "shorter": _("Shorter than the %(n)d minutes it had when you read the order."),
    }[found.kind] % {"n": found.minutes}


def became(card: TopicCard) -> str:
    """What became of a topic in the meeting; nothing while that is open."""
    return {
        Placement.Outcome.DISCUSSED: _("Discussed."),
        Placement.Outcome.CONTINUES: _("Discussed, and kept for next time."),
        Placement.Outcome.UNHEARD: _("Not reached, kept for next time."),
    }.get(Placement.Outcome(card.outcome) if card.outcome else Placement.Outcome.UNDECIDED, "")


def kept(card: TopicCard, other: str) -> str:
    """What is said at a topic that is kept for next time: why it is, and whose must-discuss it stays."""
    if card.outcome == Placement.Outcome.CONTINUES:
        return _("discussed, and kept for next time")
    if card.must_yours and card.must_theirs:
        return _("not reached; must be discussed next time (marked by both of you)")
    if card.must_yours:
        return _("not reached; must be discussed next time (marked by you)")
    if card.must_theirs:
        return _("not reached; must be discussed next time (marked by %(other)s)") % {"other": other}
    return _("not reached")
