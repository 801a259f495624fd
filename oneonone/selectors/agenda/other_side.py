"""What the other side of a line can see: their agenda, made for them, without what only they may read.

Nothing is looked up among the private rows of the other side, so there is nothing that could be opened or
counted: it cannot be told from the page whether they have written, read or marked anything.
"""

from __future__ import annotations

import copy
import datetime as dt
from dataclasses import dataclass

from accounts.models import Person
from oneonone.models import Meeting, Side
from oneonone.selectors.agenda import agenda_page
from oneonone.selectors.agenda.agenda_page import Agenda


@dataclass(frozen=True)
class Theirs:
    """A meeting's agenda as the other side sees it; None when they see none of it any more.

    ``joined`` is False for somebody who was invited: then it is what they will see once they join.
    """

    name: str
    joined: bool
    agenda: Agenda | None


def of(reader: Person, meeting: Meeting, *, now: dt.datetime) -> Theirs:
    """What the other side of the reader's meeting sees; LookupError for who is no side of it."""
    line = meeting.line
    side = line.side_for(reader).other
    name, other = line.name_on(side), line.person_on(side)
    if other is None:
        other, meeting = _as_joined(reader, meeting, side)
    elif not Meeting.objects.visible_to(other).filter(pk=meeting.pk).exists():
        return Theirs(name=name, joined=True, agenda=None)
    shown = agenda_page.of(other, meeting, now=now, private=False)
    return Theirs(name=name, joined=line.person_on(side) is not None, agenda=shown)


def _as_joined(reader: Person, meeting: Meeting, side: Side) -> tuple[Person, Meeting]:
    """Somebody who is only a name yet, and the meeting as if they had joined. None of it is ever stored."""
    somebody = Person(name=meeting.line.name_on(side), zone=reader.zone)
    line, joined = copy.copy(meeting.line), copy.copy(meeting)
    setattr(line, side.value, somebody)
    joined.line = line
    return somebody, joined
