"""The planner's reasons with titles and names in place of keys, and whose word stands behind each."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from accounts.models import Person
from oneonone.models import Importance, Line, Placement, Side
from oneonone.planner import Reason

from . import topic_cards
from .orders import Versions

BOTH = "both"
SKIPPED = "skipped"


@dataclass(frozen=True)
class Why:
    """A reason of the planner's, with titles and names of people in place of its keys.

    Numbers are minutes, offsets from the start of the meeting or worths, as the code says. Of a length that
    follows the line's history they hold ``factor``, how many times over topics of ``kind`` run. ``by`` is who
    put a topic where it is, called it *first* or must discuss it: a name, ``BOTH``, or empty.
    """

    code: str
    numbers: Mapping[str, int | Fraction]
    names: tuple[str, ...] = ()
    kind: str = ""
    by: str = ""


@dataclass(frozen=True)
class SaidOfTopic:
    """Whose words stand behind the place of one topic, and how many held meetings did not reach it."""

    musts: frozenset[Side]
    firsts: frozenset[Side]
    unheard: int


def said_of(row: Placement, unheard: int) -> SaidOfTopic:
    """What both sides said of a topic, from a row with its marks and importances at hand."""
    return SaidOfTopic(
        musts=frozenset(Side(must.side) for must in topic_cards.musts_of(row)),
        firsts=frozenset(
            Side(said.side)
            for said in topic_cards.importances_of(row.topic)
            if said.level == Importance.Level.FIRST
        ),
        unheard=unheard,
    )


class NamedReasons:
    """Titles and names in place of the keys that reasons hold, and how many times over each kind runs."""

    def __init__(
        self, line: Line, titles: Mapping[str, str], factors: Mapping[str, Fraction], versions: Versions
    ) -> None:
        self._line, self._titles, self._factors, self._versions = line, titles, factors, versions

    def why(self, reason: Reason) -> Why:
        """A reason that names topics."""
        names = tuple(self._titles.get(key, "") for key in reason.keys)
        return Why(code=reason.code, numbers=dict(reason.numbers), names=names)

    def place(self, key: str, reason: Reason, said: SaidOfTopic) -> Why:
        """Why a topic stands where it stands, and by whose word."""
        why = self.why(reason)
        if reason.code == "must":
            return replace(why, by=self._named(said.musts))
        if reason.code == "first" and said.firsts:
            return replace(why, by=self._named(said.firsts))
        if reason.code == "first" and said.unheard:
            return replace(why, code=SKIPPED, numbers={"times": said.unheard})
        if reason.code == "by_hand":
            moved = self._versions.moved_by(key)
            return replace(why, by=name_of(self._line, moved.by) if moved and moved.by else "")
        return why

    def _named(self, sides: Collection[Side]) -> str:
        return BOTH if len(sides) > 1 else "".join(self._line.first_name_on(side) for side in sides)

    def length(self, reason: Reason, kind: str) -> Why:
        """Why a topic of a kind is as long as it is."""
        numbers: dict[str, int | Fraction] = dict(reason.numbers)
        if "asked" in numbers and kind in self._factors:
            numbers["factor"] = self._factors[kind]
        return replace(self.why(reason), numbers=numbers, kind=kind)


def name_of(line: Line, person: Person) -> str:
    """What a page calls somebody who did something on a line."""
    side = line.side_of(person)
    return line.first_name_on(side) if side is not None else person.called
