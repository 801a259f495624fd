"""Why a topic stands where it stands, is as long as it is, or was left out: codes, apart from words.

A reason is a code with the numbers and keys that fill its sentence, so that a face can say it in any
language; `str` says it in English. Each follows from the rule and is checked before it is given.

Place in the order (`Slot.reason`), the first that is true:

| code | numbers | keys | meaning |
|---|---|---|---|
| `running` | | | under way when the plan was made; it keeps its place |
| `agreed` | `start` | | its start was agreed |
| `sensitive` | | the other topic | a sensitive topic that would open or end the meeting; it changed places |
| `for_sensitive` | | sensitive topic | it changed places with this sensitive topic |
| `must` | | | it must be discussed |
| `needed` | | needing topic | it comes before this topic, which needs it, and takes over its rank |
| `first` | | | somebody called it first |
| `by_hand` | | | somebody put it here by hand |
| `denser` | `worth`, `minutes`, `next_worth`, `next_minutes` | next topic | more worth a minute, same rank |
| `as_dense` | the same | next topic | as much worth a minute, same rank; it was here earlier |
| `before` | | next topic | the next topic needs it |
| `in_order` | | next topic | the order given puts it before this topic |
| `together` | | next topic | together with what comes after it, it is worth more a minute |
| `after` | | topic ahead | it needs the topic right before it |
| `in_turn` | | | its turn among the topics in turn |
| `if_time` | | | there was time for it |

Length (`Slot.length`):

| code | numbers | keys | meaning |
|---|---|---|---|
| `full` | `minutes` | | all it asked |
| `history` | `asked`, `minutes` | | all it asked times how topics of its kind have run |
| `trimmed_for` | `minutes`, `wanted` | topic | fewer than wanted; with all of them this topic would not fit |
| `trimmed` | `minutes`, `wanted` | | fewer than wanted; the others need the rest |
| `history_trimmed` | `asked`, `wanted`, `minutes` | | the same, and times how topics of its kind have run |
| `overrun` | `minutes`, `planned` | | the running topic has outrun its box |
| `running_box` | `minutes` | | the running topic keeps its box |

Left out (`LeftOut.reason`):

| code | numbers | keys | meaning |
|---|---|---|---|
| `too_long` | `least`, `room` | | its least useful minutes exceed all the minutes there are |
| `start_outside` | `start`, `least` | | its agreed start is not in the minutes for topics, or has passed |
| `start_taken` | `start`, `least` | topic | its agreed minutes meet those of this topic |
| `start_no_room` | `start`, `least` | | at its agreed start it leaves too little room for topics that come before it |
| `predecessor` | | needed topic | it needs this topic, which is left out |
| `no_room` | `least`, `free` | | so many minutes were left, beside what came before it, where it could stand |
| `not_found` | | | the search ended before a place was found |

Shortage (`Plan.infeasible`) and ways out of it (`Plan.ways_out`):

| code | numbers | keys | meaning |
|---|---|---|---|
| `must_too_long` | `needed`, `room`, `over` | left out | what must be discussed needs more minutes than there are |
| `must_starts` | `least` | left out | agreed starts leave no room for these, which need so many minutes |
| `lengthen` | `minutes` | | with so many minutes more all of it fits |
| `not_must` | `minutes` | topics | without these, of least worth, all the rest fits; they need so many minutes |
| `lift_start` | `start` | topic | with another start for this topic all of it fits |
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Reason:
    """A code, the numbers of its sentence by name, in a fixed order, and the topics it names."""

    code: str
    numbers: tuple[tuple[str, int], ...] = ()
    keys: tuple[str, ...] = ()

    def __str__(self) -> str:
        words: dict[str, object] = dict(self.numbers)
        words["keys"] = ", ".join(self.keys)
        return ENGLISH[self.code].format(**words)

    def number(self, name: str) -> int:
        """The number of that name; KeyError if the code carries none."""
        return dict(self.numbers)[name]


def reason(code: str, *keys: str, **numbers: int) -> Reason:
    """A reason, with its code checked against those documented above."""
    if code not in ENGLISH:
        raise KeyError(code)
    return Reason(code, tuple(numbers.items()), keys)


ENGLISH = {
    "running": "Under way now.",
    "agreed": "Agreed to start at minute {start}.",
    "sensitive": "Changed places with {keys}, so that a sensitive topic does not open or end the meeting.",
    "for_sensitive": "Changed places with {keys}, which is sensitive and would open or end the meeting.",
    "must": "Must be discussed.",
    "needed": "Comes before {keys}, which needs it.",
    "first": "Called first.",
    "by_hand": "Put here by hand.",
    "denser": "Matters more for its length than {keys}.",
    "as_dense": "Matters as much for its length as {keys}, and was here earlier.",
    "before": "Comes before {keys}, which needs it.",
    "in_order": "Stays before {keys}, as in the order given.",
    "together": "Together with {keys} it is worth more here.",
    "after": "Comes after {keys}, which it needs.",
    "in_turn": "In turn.",
    "if_time": "There is time for it.",
    "full": "All {minutes} minutes it asked.",
    "history": "Asked {asked}; topics of its kind usually take {minutes}.",
    "trimmed_for": "{minutes} of {wanted} minutes, so that {keys} fits.",
    "trimmed": "{minutes} of {wanted} minutes; the others need the rest.",
    "history_trimmed": "Asked {asked}, which usually takes {wanted}; it has {minutes}.",
    "overrun": "Has taken {minutes} minutes instead of {planned}.",
    "running_box": "Has its {minutes} minutes.",
    "too_long": "Needs at least {least} minutes; topics have {room} in all.",
    "start_outside": "Needs {least} minutes from minute {start}, which is not possible any more.",
    "start_taken": "Its agreed start, minute {start}, meets {keys}.",
    "start_no_room": "Its agreed start, minute {start}, leaves too little room for others that come before it.",
    "predecessor": "Needs {keys}, which is left out.",
    "no_room": "Needs {least} minutes, {free} were left.",
    "not_found": "No place was found for it before the search ended.",
    "must_too_long": "The must-discuss topics need at least {needed} minutes; there are {room}: {over} too many.",
    "must_starts": "The agreed starts leave no room for {keys}, which must be discussed: {least} minutes.",
    "lengthen": "Make the meeting {minutes} minutes longer.",
    "not_must": "Let {keys} be left out: {minutes} minutes.",
    "lift_start": "Agree on another start than minute {start} for {keys}.",
}
