"""The planner's reasons in the reader's language: topics by their titles, moments by the clock.

The codes, and what each of them means, stand in ``oneonone.planner.reasons``; "skipped" is for a topic that
is *first* because it was not reached twice. A code that has no sentence here is a fault, and a test holds the
two lists equal.
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
from oneonone.selectors.agenda.reasons import BOTH, Why

# Filled from the numbers and names of a reason: see ``_words``.
SENTENCES = {
    "running": gettext_lazy("Under way now."),
    "agreed": gettext_lazy("Agreed for %(start)s."),
    "sensitive": gettext_lazy(
        "Changed places with “%(name)s”, because it is delicate and would open or end the meeting."
    ),
    "for_sensitive": gettext_lazy(
        "Changed places with “%(name)s”, which is delicate and would open or end the meeting."
    ),
    "must": gettext_lazy("Must be discussed."),
    "needed": gettext_lazy("Comes before “%(name)s”, which needs it."),
    "first": gettext_lazy("Called first."),
    "skipped": gettext_lazy("Skipped %(times)d times, so it comes first."),
    "by_hand": gettext_lazy("Put here by hand."),
    "denser": gettext_lazy("Matters more for its length than “%(name)s”."),
    "as_dense": gettext_lazy("Matters as much for its length as “%(name)s”, and has waited longer."),
    "before": gettext_lazy("Comes before “%(name)s”, which needs it."),
    "in_order": gettext_lazy("Stays before “%(name)s”, as in the order before."),
    "after": gettext_lazy("Comes after “%(name)s”, which it needs."),
    "in_turn": gettext_lazy("Comes in turn."),
    "if_time": gettext_lazy("There is time for it."),
    "full": gettext_lazy("It has all the %(minutes)s it asked."),
    "history": gettext_lazy("Asked %(asked)d, has %(minutes_number)d: %(ran)s."),
    "trimmed_for": gettext_lazy("It has %(minutes_number)d of %(wanted)d minutes, so that “%(name)s” fits."),
    "trimmed": gettext_lazy("It has %(minutes_number)d of %(wanted)d minutes: the others need the rest."),
    "history_trimmed": gettext_lazy(
        "Asked %(asked)d, which would be %(wanted)d: %(ran)s. It has %(minutes_number)d: the others need the"
        " rest."
    ),
    "overrun": gettext_lazy("Has taken %(minutes)s instead of %(planned)d."),
    "running_box": gettext_lazy("It keeps its %(minutes)s."),
    "too_long": gettext_lazy("It needs at least %(least_minutes)s; topics have %(room)d in all."),
    "start_outside": gettext_lazy(
        "It is agreed for %(start)s and needs at least %(least_minutes)s. That is not possible: agree on"
        " another start."
    ),
    "start_taken": gettext_lazy("It is agreed for %(start)s, when “%(name)s” is on. Agree on another start."),
    "start_no_room": gettext_lazy(
        "It is agreed for %(start)s. That leaves too little room for what comes before it: agree on another"
        " start."
    ),
    "predecessor": gettext_lazy("It needs “%(name)s”, which is kept for next time too."),
    "no_room": gettext_lazy("It needs at least %(least_minutes)s, with %(free_minutes)s left."),
    "no_room_with": gettext_lazy(
        "It needs %(listed)s, which came in later: then there was no room for its %(least_minutes)s."
    ),
    "not_found": gettext_lazy("No place was found for it before the search ended."),
    "must_too_long": gettext_lazy(
        "What must be discussed needs at least %(needed_minutes)s; there are %(room)d: %(over)d too many."
    ),
    "must_starts": gettext_lazy(
        "The starts that were agreed leave no room for %(listed)s, which must be discussed and needs at least"
        " %(least_minutes)s."
    ),
    "not_must": gettext_lazy("Take “must be discussed” off %(listed)s: that frees %(minutes)s."),
    "lengthen": gettext_lazy("Meet %(minutes)s longer."),
    "lift_start": gettext_lazy("Agree on another start than %(start)s for “%(name)s”."),
}

# The same where it is known who it was.
BY_SOMEBODY = {
    "must": gettext_lazy("Must be discussed, says %(by)s."),
    "first": gettext_lazy("Called first by %(by)s."),
    "by_hand": gettext_lazy("Put here by %(by)s."),
}
BY_BOTH = {
    "must": gettext_lazy("Must be discussed, you both say."),
    "first": gettext_lazy("Called first by both of you."),
}

# What a box says by itself: what its reader cannot see on the agenda. The rest stands behind "Why here?".
PLACES_SAID = frozenset({"by_hand", "needed", "sensitive", "for_sensitive", "before", "after"})
LENGTHS_SAID = frozenset({"history", "trimmed_for", "trimmed", "history_trimmed", "overrun"})
SHORTENED_IN_SHORT = gettext_lazy("%(minutes_number)d of %(wanted)d minutes.")

# The same code where its numbers say something that the sentence above would not.
NONE_LEFT = gettext_lazy("It needs at least %(least_minutes)s, and none are left.")
LEFT_AFTER = gettext_lazy("It needs at least %(least_minutes)s, with %(free_minutes)s left after %(listed)s.")
MOST_LISTED = 2

KINDS = {
    "update": gettext_lazy("updates"),
    "idea": gettext_lazy("ideas"),
    "question": gettext_lazy("questions"),
    "obstacle": gettext_lazy("obstacles"),
    "achievement": gettext_lazy("achievements"),
    "feedback": gettext_lazy("feedback"),
    "growth": gettext_lazy("growth"),
}
# How long topics of a kind usually take in this line, for "asked 10, has 13: ...".
TAKE_LONGER = {
    "update": gettext_lazy("updates here usually take %(percent)d %% longer than asked"),
    "idea": gettext_lazy("ideas here usually take %(percent)d %% longer than asked"),
    "question": gettext_lazy("questions here usually take %(percent)d %% longer than asked"),
    "obstacle": gettext_lazy("obstacles here usually take %(percent)d %% longer than asked"),
    "achievement": gettext_lazy("achievements here usually take %(percent)d %% longer than asked"),
    "feedback": gettext_lazy("feedback here usually takes %(percent)d %% longer than asked"),
    "growth": gettext_lazy("growth here usually takes %(percent)d %% longer than asked"),
}
TAKE_LESS = {
    "update": gettext_lazy("updates here usually take %(percent)d %% less than asked"),
    "idea": gettext_lazy("ideas here usually take %(percent)d %% less than asked"),
    "question": gettext_lazy("questions here usually take %(percent)d %% less than asked"),
    "obstacle": gettext_lazy("obstacles here usually take %(percent)d %% less than asked"),
    "achievement": gettext_lazy("achievements here usually take %(percent)d %% less than asked"),
    "feedback": gettext_lazy("feedback here usually takes %(percent)d %% less than asked"),
    "growth": gettext_lazy("growth here usually takes %(percent)d %% less than asked"),
}
TAKE_AS_ASKED = gettext_lazy("they usually take as long as asked")

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
    if why.code == "no_room" and not why.numbers["free"]:
        text = NONE_LEFT
    elif why.code == "no_room" and 1 <= len(why.names) <= MOST_LISTED:
        text = LEFT_AFTER
    elif why.by == BOTH:
        text = BY_BOTH.get(why.code, text)
    elif why.by:
        text = BY_SOMEBODY.get(why.code, text)
    return str(text) % _words(why, clock)


def why_here(place: Why, length: Why, clock: Clock) -> tuple[str, ...]:
    """The answer to "Why here?": why there, and why that long where it has not all it asked."""
    said = (sentence(place, clock),)
    return said if length.code == "full" else (*said, sentence(length, clock))


def in_short(place: Why, length: Why, clock: Clock) -> str:
    """What a box says by itself: the reasons that its reader cannot see on the agenda."""
    said = [sentence(place, clock)] if place.code in PLACES_SAID else []
    if length.code in ("trimmed", "trimmed_for"):
        said.append(str(SHORTENED_IN_SHORT) % _words(length, clock))
    elif length.code in LENGTHS_SAID:
        said.append(sentence(length, clock))
    return " ".join(said)


def given_up(pairs: Sequence[tuple[str, str]]) -> list[str]:
    """What an order by hand asked for and the order does not have, a sentence each."""
    return [
        _("“%(one)s” stands after “%(other)s”, not before it as it was put by hand.")
        % {"one": one, "other": other}
        for one, other in pairs
    ]


def _words(why: Why, clock: Clock) -> dict[str, object]:
    words: dict[str, object] = {
        "name": why.names[0] if why.names else "",
        "listed": listed(why.names),
        "by": why.by,
    }
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
    if factor is None or why.kind not in TAKE_LONGER:
        return _("so topics of its kind have run here")
    return run(why.kind, factor)


def run(kind: str, factor: int | Fraction) -> str:
    """ "obstacles here usually take 30 % longer than asked", in whole percent."""
    percent = _whole(abs(Fraction(factor) - 1) * 100)
    if not percent:
        return str(TAKE_AS_ASKED)
    return str((TAKE_LONGER if factor > 1 else TAKE_LESS)[kind]) % {"percent": percent}


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
