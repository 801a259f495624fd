"""From what people say of a topic to the integer worth that the planner weighs.

The rule is the same for both sides, and is shown to whoever asks:

    worth = 2 x (manager's importance + report's importance) + kind + times kept + must

=============  ===========================================================================
importance     first 6, in turn 3 (silence means this), if time allows 1
kind           obstacle 2; question, feedback, growth and achievement 1; idea and update 0
times kept     1 for each time it was left unheard in a meeting that was held, at most 4
must           4 when a side says it must be discussed; that it is discussed is a constraint
               of its own, this only draws it forward in the order
=============  ===========================================================================

So worths run from 4 to 34, a topic kept once comes before an equal new one, and neither side's word counts
for more. The numbers are a convention of this project (common practice, no source); what they do is compared
with other orders by the simulation.
"""

IMPORTANCE = {"first": 6, "in_turn": 3, "if_time": 1}
KIND = {
    "obstacle": 2,
    "question": 1,
    "feedback": 1,
    "growth": 1,
    "achievement": 1,
    "idea": 0,
    "update": 0,
}
MOST_KEPT = 4
MUST = 4


def worth(*, manager: str, report: str, kind: str, kept: int = 0, must: bool = False) -> int:
    """The worth of a topic, from 4 to 34.

    ``manager`` and ``report`` are the importances of the two sides, ``kept`` how often the topic was left
    unheard. KeyError for an importance or a kind that is not in the tables above.
    """
    said = IMPORTANCE[manager] + IMPORTANCE[report]
    return 2 * said + KIND[kind] + min(kept, MOST_KEPT) + (MUST if must else 0)
