"""Why a topic stands where it stands, is as long as it is, or was left out: codes, apart from words.

A reason is a code with the numbers and keys that fill its sentence, so that a face can say it in any
language; `str` says it in English. Each follows from the rule and is checked before it is given.
The codes stand below with their sentences, which name the numbers that a code carries.
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
    """A reason in one line."""
    return Reason(code, tuple(numbers.items()), keys)


ENGLISH = {
    # The place in the order (`Slot.reason`), the first that is true.
    "running": "Under way now.",
    "agreed": "Agreed to start at minute {start}.",
    "sensitive": "Changed places with {keys}, so that a sensitive topic does not open or end the meeting.",
    "for_sensitive": "Changed places with {keys}, which is sensitive and would open or end the meeting.",
    "must": "Must be discussed.",
    "needed": "Comes before {keys}, which needs it.",  # and has its rank or group from it
    "first": "Called first.",
    "by_hand": "Put here by hand.",
    # The next topic of its gap is of the same rank, and is worth less a minute, or as much.
    "denser": "Worth {worth} in {minutes} minutes; {keys} {next_worth} in {next_minutes}.",
    "as_dense": "Worth {worth} in {minutes} minutes, as {keys} is {next_worth} in {next_minutes}.",
    # The next topic would otherwise stand before it.
    "before": "Comes before {keys}, which needs it.",
    "in_order": "Stays before {keys}, as in the order given.",
    # No topic of its rank follows in its gap.
    "after": "Comes after {keys}, which it needs.",
    "in_turn": "In turn.",
    "if_time": "There is time for it.",
    # The length (`Slot.length`).
    "full": "All {minutes} minutes it asked.",
    "history": "Asked {asked}; topics of its kind usually take {minutes}.",
    "trimmed_for": "{minutes} of {wanted} minutes; with all of them {keys} would not fit.",
    "trimmed": "{minutes} of {wanted} minutes; the others need the rest.",
    "history_trimmed": "Asked {asked}, which usually takes {wanted}; it has {minutes}.",
    "overrun": "Has taken {minutes} minutes instead of {planned}.",
    "running_box": "Has its {minutes} minutes.",
    # Left out (`LeftOut.reason`); `keys` of `no_room` are what came before it or with its rank.
    "too_long": "Needs at least {least} minutes; topics have {room} in all.",
    "start_outside": "From minute {start} there are no {least} minutes in this meeting, or it has passed.",
    "start_taken": "The {least} minutes from its agreed start, {start}, meet those of {keys}.",
    "start_no_room": "From minute {start}, {least} minutes do not fit beside what must be in and is agreed.",
    "predecessor": "Needs {keys}, which is left out.",
    "no_room": "Needs {least} minutes, {free} were left after {keys}.",
    "no_room_with": "With {keys}, which it needs and came in later, there was no room for {least} minutes.",
    "not_found": "No place was found for it before the search ended.",
    # The shortage (`Plan.infeasible`), `keys` left out, and the ways out of it (`Plan.ways_out`).
    "must_too_long": "What must be discussed needs {needed} minutes; there are {room}: {over} too many.",
    "must_starts": "The agreed starts leave no room for {keys}, which must be discussed: {least} minutes.",
    "not_must": "Let {keys} be left out: {minutes} minutes.",
    "lengthen": "Make the meeting {minutes} minutes longer.",
    "lift_start": "Agree on another start than minute {start} for {keys}.",
}
