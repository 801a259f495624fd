"""Why a topic stands where it stands, is as long as it is, or was left out.

A reason is a code with the numbers and keys that fill its sentence, so that a face can say it in any
language; `str` says it in English. Every code below states a constraint that bound, or a difference that a
solve has computed: no reason is guessed.

Place in the order (`Slot.reason`), the first that is true:

| code | numbers | keys | meaning |
|---|---|---|---|
| `running` | | | under way when the plan was made; it keeps its place |
| `agreed_slot` | `start` | | its start was agreed |
| `by_hand` | | neighbour | the order by hand puts it beside this topic; without it they would change places |
| `after` | | predecessor | it has to come after this topic, right before it and worth less a minute |
| `before` | | successor | the topic right behind it has to come after it, and is worth more a minute |
| `not_before` | `start` | | its slot begins at the earliest minute agreed for it |
| `by` | `end` | | it has to be over by this minute, or it would stand later |
| `sensitive` | | | a sensitive topic stands neither first nor last where that can be helped |
| `for_sensitive` | | sensitive topic | it stands at an end so that this sensitive topic need not |
| `kept` | | next topic | it stood before this topic in the order already issued |
| `kept_after` | | topic ahead | worth more a minute, it stood behind this topic in the order issued |
| `denser` | `worth`, `minutes`, `next_worth`, `next_minutes` | next topic | worth more a minute |
| `last` | | | the topic ahead is worth at least as much a minute |
| `only` | | | the only topic |
| `best_found` | | | in its place the whole order costs least of those compared |

Length (`Slot.length`):

| code | numbers | meaning |
|---|---|---|
| `full` | `minutes` | all the minutes wanted |
| `trimmed` | `minutes`, `wanted` | fewer than wanted, at least the least useful |
| `history` | `asked`, `minutes` | all the minutes wanted, which are those asked times this line's history |
| `history_trimmed` | `asked`, `wanted`, `minutes` | the same, and trimmed |
| `overrun` | `minutes`, `planned` | the running topic has outrun its box |
| `running_box` | `minutes` | the running topic keeps its box |

Left out (`LeftOut.reason`):

| code | numbers | keys | meaning |
|---|---|---|---|
| `too_long` | `least`, `room` | | its least useful minutes exceed all the minutes there are |
| `slot_outside` | `least` | | its agreed times lie outside the minutes for topics |
| `predecessor` | | predecessor | what it has to come after is left out |
| `no_minutes` | `least`, `free` | | it needs more minutes than the chosen topics leave free |
| `no_gap` | `least`, `free` | | minutes are free, but not together where it could stand |
| `floor` | `share` | side | with it the minutes of this side would fall below what both agreed |
| `not_found` | | | the search ended at its cap before it could be placed |
| `infeasible` | | | nothing can be planned until the shortage is settled |

Relaxed (`Plan.relaxed`), infeasible (`Plan.shortage`) and ways out of it (`Plan.ways_out`):

| code | numbers | keys | meaning |
|---|---|---|---|
| `floor_short` | `minutes`, `share` | side | the minutes of this side fall short of the floor by this many |
| `slot_lifted` | | topic | must-discuss, and its agreed times cannot be kept |
| `slot_passed` | `start` | topic | its agreed start has passed |
| `must_too_long` | `needed`, `room`, `over` | topics | must-discuss topics need more minutes than there are |
| `not_must` | `minutes` | topic | if this topic were not must-discuss, it would fit |
| `lengthen` | `minutes` | | so many more minutes would do |
| `use_slack` | `minutes` | | so many minutes of the slack would do |
"""

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

Number = int | Fraction


@dataclass(frozen=True, slots=True)
class Reason:
    """A code, the numbers of its sentence by name, in a fixed order, and the topics or sides it names."""

    code: str
    numbers: tuple[tuple[str, Number], ...] = ()
    keys: tuple[str, ...] = ()

    def __str__(self) -> str:
        words: dict[str, object] = {name: _plain(number) for name, number in self.numbers}
        for place, key in enumerate(self.keys):
            words[f"key{place}"] = key
        words["keys"] = ", ".join(self.keys)
        return ENGLISH[self.code].format(**words)

    def number(self, name: str) -> Number:
        """The number of that name; KeyError if the code carries none."""
        return dict(self.numbers)[name]


@lru_cache(maxsize=1024)
def reason(code: str, *keys: str, **numbers: Number) -> Reason:
    """A reason, with its code checked against those documented above."""
    if code not in ENGLISH:
        raise KeyError(code)
    return Reason(code, tuple(numbers.items()), keys)


def _plain(number: Number) -> str:
    """Integers as they are, fractions to one decimal, rounded half up."""
    if isinstance(number, int) or number.denominator == 1:
        return str(int(number))
    tenths = (number * 20 + 1) // 2
    return f"{'-' if tenths < 0 else ''}{abs(tenths) // 10}.{abs(tenths) % 10}"


ENGLISH = {
    "running": "Under way now.",
    "agreed_slot": "Agreed to start at minute {start}.",
    "by_hand": "Placed by hand beside {key0}.",
    "after": "Comes after {key0}.",
    "before": "{key0} comes after it.",
    "not_before": "Agreed not to start before minute {start}.",
    "by": "Has to be over by minute {end}.",
    "sensitive": "Sensitive: neither first nor last.",
    "for_sensitive": "Here so that {key0}, which is sensitive, is neither first nor last.",
    "kept": "Kept before {key0}, as in the order already issued.",
    "kept_after": "Kept after {key0}, as in the order already issued.",
    "denser": "Matters more a minute than {key0}.",
    "last": "The topic before it matters at least as much a minute.",
    "only": "The only topic.",
    "best_found": "The best order of those compared.",
    "full": "All {minutes} minutes wanted.",
    "trimmed": "{minutes} of the {wanted} minutes wanted.",
    "history": "Asked {asked}, boxed {minutes} by how topics of this kind have run.",
    "history_trimmed": "Asked {asked}, {wanted} by the history of this kind, boxed {minutes}.",
    "overrun": "Has taken {minutes} minutes instead of {planned}.",
    "running_box": "Has its {minutes} minutes.",
    "too_long": "Needs at least {least} minutes; topics have {room} in all.",
    "slot_outside": "Needs at least {least} minutes, and its agreed times leave it fewer in this meeting.",
    "predecessor": "Comes after {key0}, which is left out.",
    "no_minutes": "Needs at least {least} minutes; {free} are left.",
    "no_gap": "Needs at least {least} minutes together; {free} are left, but not where it could stand.",
    "floor": "With it the share agreed for the {key0} would not be kept.",
    "not_found": "No place was found for it before the search ended.",
    "infeasible": "Nothing is planned until the must-discuss topics fit.",
    "floor_short": "The {key0} gets {minutes} minutes fewer than the share agreed.",
    "slot_lifted": "The times agreed for {key0} cannot be kept.",
    "slot_passed": "The start agreed for {key0}, minute {start}, has passed.",
    "must_too_long": "The must-discuss topics need at least {needed} minutes; there are {room}: "
    "{over} too many.",
    "not_must": "Let {key0} be left out, which frees {minutes} minutes.",
    "lengthen": "Make the meeting {minutes} minutes longer.",
    "use_slack": "Use {minutes} minutes of the slack.",
}
