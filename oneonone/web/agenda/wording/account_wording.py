"""The account of a topic's place in sentences, its sum, and the example of how the order comes about."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from oneonone.models import Topic
from oneonone.selectors.agenda.account import TopicAccount, WayIn, added_by_kind
from oneonone.selectors.agenda.agenda_page import Head
from oneonone.web.agenda.wording import reason_wording, topic_wording


@dataclass(frozen=True)
class Answer:
    """The answer to "Why here?" or "Why not here?": sentences, what would let it in, and the sum."""

    sentences: tuple[str, ...]
    lets_in: tuple[str, ...]
    sum: tuple[str, ...]


def answer(head: Head, told: TopicAccount) -> Answer:
    """What is said of one topic's place."""
    clock = reason_wording.clock_of(head.meeting)
    if told.place is not None and told.length is not None:
        said = reason_wording.why_here(told.place, told.length, clock)
    elif told.out is not None:
        said = (reason_wording.sentence(told.out, clock),)
    else:
        said = (_("It is not in this order."),)
    lets_in = tuple(_lets_in(told.way_in)) if told.way_in is not None else ()
    return Answer(said, lets_in, tuple(_sum(head, told)))


def _lets_in(way: WayIn) -> Iterator[str]:
    if way.minutes is None:
        yield _("Nothing: it does not fit beside what must be discussed and the starts that were agreed.")
        return
    minutes = reason_wording.minutes_words(way.minutes)
    if way.out:
        yield _("If it had to be discussed it would have %(minutes)s, and %(names)s would be left out.") % {
            "minutes": minutes,
            "names": reason_wording.listed(way.out),
        }
    else:
        yield _("If it had to be discussed it would have %(minutes)s, and nothing would be left out.") % {
            "minutes": minutes
        }
    for title, fewer in way.fewer:
        yield ngettext(
            "“%(title)s” would have %(n)d minute fewer.", "“%(title)s” would have %(n)d minutes fewer.", fewer
        ) % {"title": title, "n": fewer}


def _sum(head: Head, told: TopicAccount) -> Iterator[str]:
    """The rank and where it comes from, then the worth in its parts."""
    yield _("It comes %(rank)s: %(why)s.") % {
        "rank": topic_wording.level(told.rank),
        "why": _rank_from(head, told),
    }
    yield worth(told)
    if told.is_in:
        yield _("%(worth)d in %(minutes)s is %(dense)s for each minute.") % {
            "worth": told.weight.worth,
            "minutes": reason_wording.minutes_words(told.minutes),
            "dense": dense(told),
        }


def _rank_from(head: Head, told: TopicAccount) -> str:
    """Where the rank comes from: a must, somebody's word, being skipped, or nothing said."""
    if told.weight.rank_from == "skipped":
        return _("it was skipped %(times)d times") % {"times": told.said.unheard}
    return {
        "must": _("it must be discussed"),
        "said": _("that is the highest that one of you said"),
        "silent": _("whoever added it has not said otherwise"),
    }[told.weight.rank_from]


def worth(told: TopicAccount) -> str:
    """ "4, 2 for its kind (obstacle), 1 for being skipped: 7 together." """
    weight = told.weight
    parts = [
        _("%(n)d for every topic") % {"n": weight.worth - weight.kind - weight.skipped - weight.both_said}
    ]
    if weight.kind:
        kind = Topic.Kind(told.placement.topic.kind).label
        parts.append(_("%(n)d for its kind (%(kind)s)") % {"n": weight.kind, "kind": kind})
    if weight.skipped:
        parts.append(_("%(n)d for being skipped") % {"n": weight.skipped})
    if weight.both_said:
        parts.append(_("%(n)d because you both say so") % {"n": weight.both_said})
    return _("Worth: %(parts)s; %(worth)d together.") % {"parts": _(", ").join(parts), "worth": weight.worth}


def dense(told: TopicAccount) -> str:
    """The worth for each minute a topic has, to two decimals."""
    return reason_wording.decimal(Fraction(told.weight.worth, told.minutes))


@dataclass(frozen=True)
class ExampleRow:
    """One topic of the worked example. ``clock`` and ``dense`` are empty for one that was left out."""

    title: str
    clock: str
    rank: str
    worth: int
    minutes: int
    asked: int
    dense: str
    why: str


def example(head: Head, topics: tuple[TopicAccount, ...]) -> tuple[ExampleRow, ...]:
    """What the rule makes of an agenda, topic by topic."""
    clock = reason_wording.clock_of(head.meeting)
    return tuple(
        ExampleRow(
            title=told.title,
            clock=clock(told.minute) if told.minute is not None else "",
            rank=topic_wording.level(told.rank),
            worth=told.weight.worth,
            minutes=told.minutes,
            asked=_wanted(told),
            dense=dense(told) if told.is_in else "",
            why=" ".join(answer(head, told).sentences),
        )
        for told in topics
    )


def _wanted(told: TopicAccount) -> int:
    """The minutes it would have, by how topics of its kind have run where that is known."""
    if told.length is None:
        return told.placement.minutes_wanted
    return int(told.length.numbers.get("wanted", told.minutes))


def rule_rows() -> tuple[tuple[str, int], ...]:
    """The kinds that add to the worth of a topic within its rank, and what they add, most first."""
    adding = [(kind, adds) for kind, adds in added_by_kind().items() if adds]
    adding.sort(key=lambda one: -one[1])
    return tuple(
        (_(", ").join(str(kind.label) for kind, _adds in alike), adds)
        for adds, alike in groupby(adding, key=lambda one: one[1])
    )
