"""From what people say of a topic to its rank and its worth within the rank.

The rank is the highest that either side said; a raiser who says nothing counts as *in turn*, so that the
other's *if time allows* does not sink a topic alone. A topic that must be discussed, or was not reached in
two meetings that were held, is *first*: long topics would otherwise starve behind short ones.

The worth compares topics of one rank: 4; plus 2 for an obstacle, 0 for an idea or update, 1 for any other
kind; plus 1 for each meeting that was held without reaching it, at most 4; plus 2 when both sides said the
rank that it has. So worths run from 4 to 12: a convention of this project (common practice, no source).
"""

from dataclasses import dataclass

from oneonone.planner.model import FIRST, IF_TIME, IN_TURN

RANKS = {"first": FIRST, "in_turn": IN_TURN, "if_time": IF_TIME}
"""What a side can say of a topic, and the rank it means."""

BASE = 4
KIND = {"obstacle": 2, "question": 1, "feedback": 1, "growth": 1, "achievement": 1, "idea": 0, "update": 0}
MOST_SKIPPED = 4
BOTH_SAID = 2

SKIPPED_COMES_FIRST = 2
"""A topic skipped in so many meetings that were held is *first*."""

MOST_FIRST = 2
"""Topics of one agenda that a side may call *first*, beside its one must-discuss."""


@dataclass(frozen=True, slots=True)
class Weight:
    """A topic's rank, what gave it (`must`, `said`, `skipped` or `silent`), and its worth in parts."""

    rank: int
    rank_from: str
    kind: int
    skipped: int
    both_said: int

    @property
    def worth(self) -> int:
        return BASE + self.kind + self.skipped + self.both_said


def weigh(
    *,
    manager: str | None,
    report: str | None,
    raiser: str | None,
    kind: str,
    skipped: int = 0,
    must: bool = False,
) -> Weight:
    """The rank and worth of a topic.

    `manager` and `report` are "first", "in_turn", "if_time" or None for a side that said nothing; `raiser` is
    "manager", "report" or None for both; `skipped` are the held meetings that did not reach it. KeyError for
    a word that is not in the tables above.
    """
    said = {"manager": manager, "report": report}
    ranks = [RANKS[word] for word in said.values() if word is not None]
    raisers = said.values() if raiser is None else (said[raiser],)
    silent = [IN_TURN] if None in raisers else []
    rank = min([*ranks, *silent])
    rank_from = "said" if rank in ranks else "silent"
    if rank != FIRST and skipped >= SKIPPED_COMES_FIRST:
        rank, rank_from = FIRST, "skipped"
    if must:
        rank, rank_from = FIRST, "must"
    both = len(ranks) == 2 and ranks[0] == ranks[1] == rank
    return Weight(rank, rank_from, KIND[kind], min(skipped, MOST_SKIPPED), BOTH_SAID if both else 0)
