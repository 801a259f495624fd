"""What a page says about a topic, a box and a commitment, in whole phrases."""

from __future__ import annotations

from collections.abc import Callable

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from oneonone.models import Importance, Placement, Topic
from oneonone.selectors.agenda.order_changes import Change
from oneonone.selectors.agenda.order_view import Trace
from oneonone.selectors.agenda.topic_cards import TopicCard

Level = Importance.Level
Clock = Callable[[int], str]

# Skipped in so many held meetings a topic comes first.
TIMES_TO_FIRST = 2


KINDS = {
    Topic.Kind.UPDATE.value: gettext_lazy("Update"),
    Topic.Kind.IDEA.value: gettext_lazy("Idea"),
    Topic.Kind.QUESTION.value: gettext_lazy("Question"),
    Topic.Kind.OBSTACLE.value: gettext_lazy("Obstacle"),
    Topic.Kind.ACHIEVEMENT.value: gettext_lazy("Achievement"),
    Topic.Kind.FEEDBACK.value: gettext_lazy("Feedback"),
    Topic.Kind.GROWTH.value: gettext_lazy("Growth"),
}
OUTCOMES = {
    Topic.Outcome.DECIDE.value: gettext_lazy("wants a decision"),
    Topic.Outcome.ADVISE.value: gettext_lazy("wants advice"),
    Topic.Outcome.SOLVE.value: gettext_lazy("wants to be solved together"),
    Topic.Outcome.INFORM.value: gettext_lazy("for information"),
}
LEVELS = {
    "": gettext_lazy("nothing said"),
    Level.FIRST.value: gettext_lazy("first"),
    Level.IN_TURN.value: gettext_lazy("in turn"),
    Level.IF_TIME.value: gettext_lazy("if time allows"),
}
BECAME = {
    Placement.Outcome.DISCUSSED.value: gettext_lazy("Discussed."),
    Placement.Outcome.CONTINUES.value: gettext_lazy("Discussed, and kept for next time."),
    Placement.Outcome.UNHEARD.value: gettext_lazy("Not reached, kept for next time."),
}


def kind(card: TopicCard) -> str:
    """ "Obstacle" """
    return str(KINDS[card.kind])


def outcome_wanted(card: TopicCard) -> str:
    """ "wants a decision" """
    return str(OUTCOMES[card.outcome_wanted])


def level(value: str) -> str:
    """An importance in the words both sides use; of a side that has said nothing, that."""
    return str(LEVELS[value])


def about(card: TopicCard) -> str:
    """ "Obstacle, wants a decision. Must be discussed. Kept twice." """
    said = [_("%(kind)s, %(outcome)s.") % {"kind": kind(card), "outcome": outcome_wanted(card)}]
    if card.is_must:
        again = card.unheard and card.is_undecided
        said.append(_("Must be discussed again.") if again else _("Must be discussed."))
    if card.unheard >= TIMES_TO_FIRST:
        said.append(
            ngettext(
                "Skipped %(n)d time, so it comes first.",
                "Skipped %(n)d times, so it comes first.",
                card.unheard,
            )
            % {"n": card.unheard}
        )
    elif card.unheard:
        said.append(ngettext("Skipped once.", "Skipped %(n)d times.", card.unheard) % {"n": card.unheard})
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
    """What the side that did not raise it says of its importance, in the half opposite; silence is empty."""
    said = card.theirs if card.is_yours else card.yours
    if said == Level.IN_TURN:
        return ""
    if card.is_yours:
        return _("%(other)s: %(level)s") % {"other": other, "level": level(said)}
    return _("you: %(level)s") % {"level": level(said)}


def own_level(card: TopicCard, other: str) -> str:
    """What the side that raised it says; nothing where it has said nothing."""
    said, was_first = (
        (card.yours, card.yours_was_first) if card.is_yours else (card.theirs, card.theirs_was_first)
    )
    return _says(said, was_first, by_you=card.is_yours, other=other)


def others_level(card: TopicCard, other: str) -> str:
    """What the side that did not raise it says; nothing where it has said nothing."""
    said, was_first = (
        (card.theirs, card.theirs_was_first) if card.is_yours else (card.yours, card.yours_was_first)
    )
    return _says(said, was_first, by_you=not card.is_yours, other=other)


def _says(said: str, was_first: bool, *, by_you: bool, other: str) -> str:
    if not said:
        return ""
    facts = {"other": other, "level": level(said)}
    if was_first and by_you:
        return _("You said first. Two other topics are first to you already, so it comes in turn.")
    if was_first:
        return (
            _("%(other)s said first. Two other topics are first to %(other)s already, so it comes in turn.")
            % facts
        )
    return (_("You say: %(level)s.") if by_you else _("%(other)s says: %(level)s.")) % facts


def moved_by_hand(trace: Trace | None, now: str, clock: Clock) -> str:
    """ "Ines moved this from 10:20 to 10:05." Said to the other side until they have read the order."""
    if trace is None:
        return ""
    if trace.was_minute is None:
        return _("%(by)s put this in.") % {"by": trace.by}
    was = clock(trace.was_minute)
    if was == now:
        return _("%(by)s moved this; it begins at %(now)s.") % {"by": trace.by, "now": now}
    return _("%(by)s moved this from %(was)s to %(now)s.") % {"by": trace.by, "was": was, "now": now}


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


def change_in_a_word(found: Change | None, moved: str) -> str:
    """The same beside the minutes, where a box has room for a word; ``moved`` is a move by hand, if any."""
    if found is None:
        return _("moved") if moved else ""
    return {"new": _("new"), "moved": _("moved"), "longer": _("longer"), "shorter": _("shorter")}[found.kind]


def became(card: TopicCard) -> str:
    """What became of a topic in the meeting; nothing while that is open."""
    return str(BECAME.get(card.outcome, ""))


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
