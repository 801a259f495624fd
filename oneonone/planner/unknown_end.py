"""The order when nobody knows when the meeting will end, but each further minute is as likely to be there.

If a meeting that is still going has a chance of `survival` of lasting one minute more, whatever the minute,
the order by v q / (1 - q), q being the chance of lasting through the topic, has the greatest expected worth:
the exchange argument for exponential discounting (Rothkopf, Management Science 12, 1966).
"""

from collections.abc import Sequence
from fractions import Fraction

from oneonone.planner.model import Item
from oneonone.planner.refusals import OutOfRange


def by_index(items: Sequence[Item], survival: Fraction) -> list[str]:
    """Keys in the best order, each topic at its wanted minutes; `survival` lies between 0 and 1, both out."""
    _check(survival)

    def index(item: Item) -> tuple[Fraction, str]:
        lasting = survival**item.wanted
        return -item.worth * lasting / (1 - lasting), item.key

    return [item.key for item in sorted(items, key=index)]


def expected_worth(line: Sequence[Item], survival: Fraction) -> Fraction:
    """Worth times the chance that the meeting lasts through the topic, summed over an order."""
    _check(survival)
    total, chance = Fraction(0), Fraction(1)
    for item in line:
        chance *= survival**item.wanted
        total += item.worth * chance
    return total


def _check(survival: Fraction) -> None:
    if not 0 < survival < 1:
        raise OutOfRange("survival", "a fraction above 0 and below 1")
