"""The planner's reasons in the reader's language: topics by their titles, moments by the clock.

The codes, and what each of them means, stand in ``oneonone.planner.reasons``. A code that has no sentence
here is a fault, and a test holds the two lists equal.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from decimal import Decimal
from fractions import Fraction
from zoneinfo import ZoneInfo

from django.utils.formats import number_format, time_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext, pgettext

from oneonone.models import Meeting
from oneonone.selectors.order import Why

# Filled from the numbers and names of a reason: see ``_words``.
SENTENCES = {
    "running": gettext_lazy("Under way now."),
    "agreed_slot": gettext_lazy("Set by hand to begin at %(start)s."),
    "by_hand": gettext_lazy("Next to “%(name)s”, as in the order last moved by hand."),
    "after": gettext_lazy("Has to come after “%(name)s”."),
    "before": gettext_lazy("Comes first because “%(name)s” has to come after it."),
    "not_before": gettext_lazy("Agreed not to begin before %(start)s."),
    "by": gettext_lazy("Has to be over by %(end)s."),
    "sensitive": gettext_lazy("Neither first nor last, because it is marked as delicate."),
    "for_sensitive": gettext_lazy("Here so that “%(name)s”, which is delicate, is neither first nor last."),
    "kept": gettext_lazy("Before “%(name)s”, as in the order before this one."),
    "kept_after": gettext_lazy("After “%(name)s”, as in the order before this one."),
    "denser": gettext_lazy("Before “%(name)s”, because it matters more for each minute it takes."),
    "last": gettext_lazy("The topic before it matters at least as much for each minute it takes."),
    "only": gettext_lazy("The only topic."),
    "best_found": gettext_lazy("The best place among the orders that were compared."),
    "full": gettext_lazy("It has all the %(minutes)s asked."),
    "trimmed": gettext_lazy("Asked %(wanted)d, boxed %(minutes_number)d: the others need the rest."),
    "history": gettext_lazy("Asked %(asked)d, boxed %(minutes_number)d: %(ran)s."),
    "history_trimmed": gettext_lazy(
        "Asked %(asked)d, which would be %(wanted)d: %(ran)s."
        " Boxed %(minutes_number)d: the others need the rest."
    ),
    "overrun": gettext_lazy("Has taken %(minutes)s instead of %(planned)d."),
    "running_box": gettext_lazy("It keeps its %(minutes)s."),
    "too_long": gettext_lazy("It needs at least %(least_minutes)s; topics have %(room)d in all."),
    "slot_outside": gettext_lazy(
        "It needs at least %(least_minutes)s, and the times agreed for it leave fewer."
    ),
    "predecessor": gettext_lazy("It has to come after “%(name)s”, which is kept too."),
    "no_minutes": gettext_lazy("It needs at least %(least_minutes)s, with %(free_minutes)s left."),
    "no_gap": gettext_lazy(
        "It needs at least %(least_minutes)s together; there are %(free)d, but not in one piece."
    ),
    "floor": gettext_lazy("With it %(name)s would have fewer minutes than both of you agreed."),
    "not_found": gettext_lazy("No place was found for it before the search ended."),
    "infeasible": gettext_lazy("Nothing fits until the topics that must be discussed do."),
    "floor_short": gettext_lazy("%(name)s has %(minutes)s fewer than both of you agreed."),
    "slot_lifted": gettext_lazy("The times agreed for “%(name)s” cannot be kept."),
    "slot_passed": gettext_lazy("The start agreed for “%(name)s”, %(start)s, has passed."),
    "must_too_long": gettext_lazy(
        "What must be discussed needs at least %(needed_minutes)s; there are %(room)d: %(over)d too many."
    ),
    "not_must": gettext_lazy("Take “must be discussed” off “%(name)s”: that frees %(minutes)s."),
    "lengthen": gettext_lazy("Meet %(minutes)s longer."),
    "use_slack": gettext_lazy("Use %(minutes)s of those held free."),
}

# What fits into one line of a box; the sentences above, which name the neighbour, stand behind "Why here?".
IN_SHORT = {
    "by_hand": gettext_lazy("As in the order last moved by hand."),
    "kept": gettext_lazy("Where it was in the order before this one."),
    "kept_after": gettext_lazy("Where it was in the order before this one."),
    "denser": gettext_lazy("Matters more per minute than the next."),
    "last": gettext_lazy("The one before it matters as much or more per minute."),
    "best_found": gettext_lazy("The best place of those compared."),
    "trimmed": gettext_lazy("Asked %(wanted)d, boxed %(minutes_number)d."),
    "history_trimmed": gettext_lazy(
        "Asked %(asked)d, boxed %(minutes_number)d: %(ran)s, but others need the time."
    ),
}

# The same codes where their numbers say something that the sentence above would not.
NONE_LEFT = gettext_lazy("It needs at least %(least_minutes)s, and none are left.")
AS_DENSE = gettext_lazy("Before “%(name)s”: both matter as much for each minute they take.")
AS_DENSE_IN_SHORT = gettext_lazy("Matters as much per minute as the next.")

KINDS = {
    "update": gettext_lazy("updates"),
    "idea": gettext_lazy("ideas"),
    "question": gettext_lazy("questions"),
    "obstacle": gettext_lazy("obstacles"),
    "achievement": gettext_lazy("achievements"),
    "feedback": gettext_lazy("feedback"),
    "growth": gettext_lazy("growth"),
}
# How topics of a kind have run in this line, for "asked 10, boxed 13: ...".
RUN_OVER = {
    "update": gettext_lazy("updates here run %(times)s times over"),
    "idea": gettext_lazy("ideas here run %(times)s times over"),
    "question": gettext_lazy("questions here run %(times)s times over"),
    "obstacle": gettext_lazy("obstacles here run %(times)s times over"),
    "achievement": gettext_lazy("achievements here run %(times)s times over"),
    "feedback": gettext_lazy("feedback here runs %(times)s times over"),
    "growth": gettext_lazy("growth here runs %(times)s times over"),
}
RUN_SHORT = {
    "update": gettext_lazy("updates here take %(times)s of what is asked"),
    "idea": gettext_lazy("ideas here take %(times)s of what is asked"),
    "question": gettext_lazy("questions here take %(times)s of what is asked"),
    "obstacle": gettext_lazy("obstacles here take %(times)s of what is asked"),
    "achievement": gettext_lazy("achievements here take %(times)s of what is asked"),
    "feedback": gettext_lazy("feedback here takes %(times)s of what is asked"),
    "growth": gettext_lazy("growth here takes %(times)s of what is asked"),
}

Clock = Callable[[int], str]


def clock_of(meeting: Meeting) -> Clock:
    """Minutes from a meeting's start as the clock time in the zone it was agreed in."""
    zone, zero = ZoneInfo(meeting.zone), meeting.minute_zero

    def clock(minute: int) -> str:
        at = (zero + dt.timedelta(minutes=minute)).astimezone(zone)
        return time_format(at.time(), pgettext("time format", "H:i"))

    return clock


def minutes_words(minutes: int) -> str:
    """ "1 minute", "12 minutes"."""
    return ngettext("%(n)d minute", "%(n)d minutes", minutes) % {"n": minutes}


def sentence(why: Why, clock: Clock) -> str:
    """A reason as one sentence. KeyError for a code that has none."""
    text = SENTENCES[why.code]
    if why.code == "no_minutes" and not why.numbers["free"]:
        text = NONE_LEFT
    elif is_as_dense(why):
        text = AS_DENSE
    return str(text) % _words(why, clock)


def in_short(why: Why, clock: Clock) -> str:
    """The same, short enough for a line."""
    if is_as_dense(why):
        return str(AS_DENSE_IN_SHORT)
    if why.code not in IN_SHORT:
        return sentence(why, clock)
    return str(IN_SHORT[why.code]) % _words(why, clock)


def is_as_dense(why: Why) -> bool:
    """Whether a topic stands before one that is worth exactly as much for each minute."""
    if why.code != "denser":
        return False
    numbers = why.numbers
    return numbers["worth"] * numbers["next_minutes"] == numbers["next_worth"] * numbers["minutes"]


def _words(why: Why, clock: Clock) -> dict[str, object]:
    words: dict[str, object] = {"name": why.names[0] if why.names else "", "names": listed(why.names)}
    for name, number in why.numbers.items():
        whole = _whole(number)
        words[name] = clock(whole) if name in ("start", "end") else whole
        words[f"{name}_minutes"] = minutes_words(whole)
    if "asked" in why.numbers:
        words["ran"] = _ran(why)
    if "minutes" in why.numbers:
        words["minutes_number"] = words["minutes"]
        words["minutes"] = words["minutes_minutes"]
    return words


def _ran(why: Why) -> str:
    factor = why.numbers.get("factor")
    if factor is None or why.kind not in RUN_OVER:
        return _("so topics of its kind have run here")
    return run(why.kind, factor)


def run(kind: str, factor: int | Fraction) -> str:
    """ "obstacles here run 1.3 times over": how topics of a kind have run, to two decimals at most."""
    table = RUN_SHORT if factor < 1 else RUN_OVER
    return str(table[kind]) % {"times": decimal(factor)}


def decimal(number: int | Fraction, places: int = 2) -> str:
    """A number in the reader's digits, rounded half up, with no more decimals than it needs."""
    step = 10**places
    rounded = Fraction(int(abs(number) * step + Fraction(1, 2)), step) * (-1 if number < 0 else 1)
    needed = next(n for n in range(places + 1) if (rounded * 10**n).denominator == 1)
    return number_format(Decimal(rounded.numerator) / Decimal(rounded.denominator), decimal_pos=needed)


def _whole(number: int | Fraction) -> int:
    """Whole minutes as they are; a share or a worth, rounded half up."""
    return number if isinstance(number, int) else int(number + Fraction(1, 2))


def listed(titles: Sequence[str]) -> str:
    """ "“Paint”, “Ropes” and “Fenders”" """
    quoted = [f"“{title}”" for title in titles]
    if len(quoted) < 2:
        return "".join(quoted)
    return _("%(first)s and %(last)s") % {"first": _(", ").join(quoted[:-1]), "last": quoted[-1]}
