"""Refusals of the domain, with constant texts. The web layer turns them into pages."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from accounts.refusals import Refusal

__all__ = [
    "AlreadyStarted",
    "Circle",
    "InOrder",
    "ListNotKept",
    "MovedOn",
    "MustStays",
    "NoRoom",
    "NotAllowed",
    "NotNow",
    "NotYourself",
    "OutOfRange",
    "PastDate",
    "PastNextMeeting",
    "Refusal",
    "SecondLine",
    "Stale",
    "TooLong",
    "TooMany",
    "TwoFirst",
    "UnderHold",
]


class OutOfRange(Refusal):
    """A number or choice outside what is accepted."""

    text = _("That value cannot be used here.")


class TooLong(Refusal):
    """Text over its limit, empty, or with characters that cannot be kept."""

    text = _("That text cannot be kept as it is.")


class PastDate(Refusal):
    text = _("That date has passed.")


class Circle(Refusal):
    """The change would make something come before itself. The text names no third person."""

    text = _("That would make a circle.")


class SecondLine(Refusal):
    text = _("These two people already have an open reporting line.")


class NotNow(Refusal):
    """The row is in a state from which this cannot be done."""

    text = _("That cannot be done any more: it has changed in the meantime.")


class AlreadyStarted(NotNow):
    text = _("Another one-on-one of this line is under way.")


class MovedOn(NotNow):
    """Two people pressed at once, and the other one chose a different topic first."""

    text = _("The other side has just gone on. This page shows where you are now.")


class NotAllowed(Refusal):
    """The row is visible to the actor, but only somebody else may change it."""

    text = _("Only the other side can change this.")


class MustStays(Refusal):
    text = _(
        "A topic that the other side has marked as must-discuss would lose its place. Nobody does that alone."
    )


class PastNextMeeting(Refusal):
    text = _("That is past the next one-on-one. Call one of the two off, or choose an earlier time.")


class Stale(Refusal):
    """Somebody changed the row since it was read. ``theirs`` holds the current words, field by field."""

    text = _("This was changed while you were writing. Both texts are below.")

    def __init__(self, *, theirs: dict[str, str], version: int) -> None:
        super().__init__()
        self.theirs = theirs
        self.version = version


class NotYourself(Refusal):
    """An act of administrators on another account, tried on the actor's own."""

    text = _("You cannot do this to your own account.")
    accepted = _("Ask another administrator.")


class UnderHold(Refusal):
    text = _("A legal hold is open for this person: nothing of theirs may be erased.")
    accepted = _("The hold has to be lifted first.")


class ListNotKept(Refusal):
    """Without the list a restored backup would bring the person back."""

    text = _("Nobody was erased: the erasure list beside the database cannot be written.")
    accepted = _("Whoever runs the server has to make its file writable.")


class NoRoom(Refusal):
    """What comes in before a topic that is put in by hand leaves no room for it."""

    text = _(
        "There is no room for it beside what must be discussed, agreed starts, what is called first, and"
        " what was put in by hand."
    )
    accepted = _("Say first for it, take one of those back, or ask fewer minutes for it.")


class TwoFirst(Refusal):
    """A third topic of one agenda called *first* by one side. ``accepted`` names the two."""

    text = _("Each of you can call two topics of one agenda first.")


class InOrder(NotNow):
    """Putting topics in order anew would move nothing."""

    text = _("They are in that order already: nothing would move.")


class TooMany(Refusal):
    """More rows than pages and planner are made for."""

    text = _("There are more of them than one agenda can hold.")
