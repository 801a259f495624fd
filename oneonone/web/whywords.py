"""The account of a topic's place in questions and answers, and the rule of worth as tables."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from oneonone.models import Importance, Side, Topic
from oneonone.selectors.agenda import Head
from oneonone.selectors.order import Why
from oneonone.selectors.weighing import LEVELS, Rule, Weight
from oneonone.selectors.why import BEGUN, TOO_LONG, Account, Effect
from oneonone.web import reasons, topicwords


@dataclass(frozen=True)
class Answer:
    """One question about a topic's place, and what can be said to it, a sentence each."""

    question: str
    sentences: tuple[str, ...]


def answers(head: Head, told: Account) -> tuple[Answer, ...]:
    """All questions that the account has something to say to, in the order they come up."""
    clock = reasons.clock_of(head.meeting)
    found = _of_a_box(head, told, clock) if told.is_in else _of_one_left_out(told, clock)
    said = [
        *found,
        Answer(_("What does it weigh?"), (weight(told.weight, head),)),
        Answer(_("Why is there no more?"), tuple(_silence(told))),
    ]
    return tuple(one for one in said if one.sentences)


def _of_a_box(head: Head, told: Account, clock: reasons.Clock) -> Iterator[Answer]:
    on = (*_musts(head, told), *_by_hand(told), *_without_it(told, clock))
    yield Answer(_("Why is it on this agenda?"), on)
    if told.place is not None and told.minute is not None:
        at = _("Why at %(clock)s?") % {"clock": clock(told.minute)}
        yield Answer(at, (reasons.sentence(told.place, clock), *_density(told)))
    if told.length is not None:
        long = _("Why %(minutes)s?") % {"minutes": reasons.minutes_words(told.minutes)}
        yield Answer(long, (reasons.sentence(told.length, clock),))


def _of_one_left_out(told: Account, clock: reasons.Clock) -> Iterator[Answer]:
    out = reasons.sentence(told.out, clock) if told.out is not None else _("It is not in this order.")
    yield Answer(_("Why is it not on this agenda?"), (out,))
    yield Answer(_("What would leave if it came in?"), tuple(_with_it(told, clock)))
    yield Answer(_("What would let it in?"), tuple(_ways_in(told)))


def _musts(head: Head, told: Account) -> Iterator[str]:
    if len(told.must) == len(Side):
        yield _("You both say that it must be discussed.")
    elif told.side in told.must:
        yield _("You say that it must be discussed.")
    elif told.must:
        yield _("%(other)s says that it must be discussed.") % {"other": head.other}
    if told.needed_by:
        yield ngettext(
            "%(names)s has to be in and comes after it, so that it cannot be left out.",
            "%(names)s have to be in and come after it, so that it cannot be left out.",
            len(told.needed_by),
        ) % {"names": reasons.listed(told.needed_by)}


def _by_hand(told: Account) -> Iterator[str]:
    if told.by_hand:
        yield _("It was given its place by hand, which wins over the planner.")


def _without_it(told: Account, clock: reasons.Clock) -> Iterator[str]:
    effect = told.effect
    if effect is None:
        return
    if effect.out:
        yield _("Without it %(names)s would go too.") % {"names": reasons.listed(effect.out)}
    if effect.come_in:
        yield _("Without it %(names)s would come in.") % {"names": reasons.listed(effect.come_in)}
    elif effect.more:
        yield _("Without it no other topic would come in.")
    else:
        yield _("Without it nothing would take its place.")
    yield from _minutes(effect)
    yield from (reasons.sentence(rule, clock) for rule in effect.given_up)
    yield _whole(told, effect)


def _with_it(told: Account, clock: reasons.Clock) -> Iterator[str]:
    if told.impossible is not None:
        yield _impossible(told.impossible, clock)
    effect = told.effect
    if effect is None:
        return
    facts = {"names": reasons.listed(effect.out), "worth": effect.out_worth, "own": told.weight.worth}
    if len(effect.out) == 1:
        yield _("It is worth %(own)d and would push out %(names)s, worth %(worth)d.") % facts
    elif effect.out:
        yield _("It is worth %(own)d and would push out %(names)s, worth %(worth)d together.") % facts
    if effect.come_in:
        yield _("%(names)s would come in with it.") % {"names": reasons.listed(effect.come_in)}
    yield from _minutes(effect)
    yield _("It would itself have %(minutes)s.") % {"minutes": reasons.minutes_words(effect.minutes)}
    yield from (reasons.sentence(rule, clock) for rule in effect.given_up)
    yield _whole(told, effect)


def _impossible(why: Why, clock: reasons.Clock) -> str:
    """Why a topic cannot come in. Must-discuss topics that are too long are it and all those that stay."""
    if why.code != "must_too_long":
        return _("It cannot come in.") + " " + reasons.sentence(why, clock)
    return _(
        "It cannot come in: with what must be discussed or has its place by hand it needs at least "
        "%(needed)s; there are %(room)d."
    ) % {"needed": reasons.minutes_words(int(why.numbers["needed"])), "room": why.numbers["room"]}


def _minutes(effect: Effect) -> Iterator[str]:
    for title, minutes in effect.more:
        yield ngettext(
            "“%(title)s” would have %(n)d minute more.", "“%(title)s” would have %(n)d minutes more.", minutes
        ) % {"title": title, "n": minutes}
    for title, minutes in effect.fewer:
        yield ngettext(
            "“%(title)s” would have %(n)d minute fewer.",
            "“%(title)s” would have %(n)d minutes fewer.",
            minutes,
        ) % {"title": title, "n": minutes}


def _whole(told: Account, effect: Effect) -> str:
    if not effect.worth:
        return _("The agenda as a whole would be worth as much.")
    by = {"worth": reasons.decimal(abs(effect.worth), 1)}
    if effect.worth < 0:
        return _("The agenda as a whole would be worth %(worth)s less.") % by
    if told.is_issued and not told.by_hand:
        return _("The agenda as a whole would be worth %(worth)s more: an order once issued is kept.") % by
    return _("The agenda as a whole would be worth %(worth)s more.") % by


def _ways_in(told: Account) -> Iterator[str]:
    way = told.way_in
    if way.minutes:
        yield ngettext(
            "%(n)d minute more: in a longer meeting, or with less asked for others.",
            "%(n)d minutes more: in a longer meeting, or with less asked for others.",
            way.minutes,
        ) % {"n": way.minutes}
    if way.worth is not None:
        yield _("From a worth of %(enough)d on it comes in by itself; it has %(own)d.") % {
            "enough": way.worth,
            "own": told.weight.worth,
        }
        if told.weight.levels[told.side] != Importance.Level.FIRST:
            yield (
                _("Your word that it comes first would be enough for that.")
                if way.if_first
                else _("Your word that it comes first would not be enough for that.")
            )
    if told.effect is not None:
        yield _("Or your hand: a topic that you bring in has a place, whatever that costs.")


def _silence(told: Account) -> Iterator[str]:
    if told.silent == TOO_LONG:
        yield _("What must be discussed does not fit. Until it does, no other order is worked out.")
    elif told.silent == BEGUN:
        yield _("The meeting has begun. What another order would change is worked out before it only.")


def _density(told: Account) -> Iterator[str]:
    if told.place is None or told.place.code != "denser" or not told.place.names:
        return
    if reasons.is_as_dense(told.place):
        return
    number = told.place.numbers
    yield _("%(worth)d in %(minutes)s is %(mine)s for each minute; “%(next)s” has %(theirs)s.") % {
        "worth": number["worth"],
        "minutes": reasons.minutes_words(int(number["minutes"])),
        "mine": reasons.decimal(number["worth"] / Fraction(number["minutes"]), 2),
        "next": told.place.names[0],
        "theirs": reasons.decimal(number["next_worth"] / Fraction(number["next_minutes"]), 2),
    }


def weight(found: Weight, head: Head) -> str:
    """ "12 for your “first”, 6 for Ines’s “in turn”, 2 for its kind, obstacle: 20." """
    parts = [
        _("%(n)d for your “%(level)s”")
        % {"n": found.of(head.side), "level": topicwords.level(found.levels[head.side])},
        _("%(n)d for the “%(level)s” of %(other)s")
        % {
            "n": found.of(head.side.other),
            "level": topicwords.level(found.levels[head.side.other]),
            "other": head.other,
        },
    ]
    if found.of_kind:
        kind = Topic.Kind(found.kind).label
        parts.append(_("%(n)d for its kind, %(kind)s") % {"n": found.of_kind, "kind": kind})
    if found.of_age:
        parts.append(
            ngettext(
                "%(n)d for having been kept once",
                "%(n)d for having been kept %(times)d times",
                found.times_kept,
            )
            % {"n": found.of_age, "times": found.times_kept}
        )
    if found.of_must:
        parts.append(_("%(n)d because it must be discussed") % {"n": found.of_must})
    return _("%(parts)s: %(worth)d together.") % {"parts": _(", ").join(parts), "worth": found.worth}


@dataclass(frozen=True)
class LevelRow:
    """One row of the table of importances: a side's word, and the worth for each word of the other side."""

    level: str
    worths: tuple[tuple[str, int], ...]


def level_rows(rule: Rule) -> tuple[LevelRow, ...]:
    """What two importances come to, by each side's word."""
    return tuple(
        LevelRow(
            topicwords.level(mine),
            tuple((topicwords.level(yours), rule.said[mine][yours]) for yours in LEVELS),
        )
        for mine in LEVELS
    )


def kind_rows(rule: Rule) -> tuple[tuple[str, int], ...]:
    """The kinds that add the same, and what that is, most first."""
    return tuple(
        (_(", ").join(str(kind.label) for kind, _adds in alike), adds)
        for adds, alike in groupby(rule.kinds.items(), key=lambda one: one[1])
    )
