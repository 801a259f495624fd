"""The names in forms and queries by which a row is meant, and what each must not be taken for.

One entry for each route and name: who sends it and for which thing, what is taken, and ids that are not: of
another line, of one that has ended, of another line of one's own, of a thing of another kind, of nothing.
``off`` takes the check away, so that a test can show that the cells would go red without it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import pytest
from django import forms
from django.http import Http404

from accounts.models import Person, Session
from accounts.models.session import hash_of_key
from accounts.services import leaving
from oneonone import access
from oneonone.models import Line, Meeting, Placement
from oneonone.selectors.private import logbook
from oneonone.services.record import record
from oneonone.web.agenda import named_placement, placement_views
from oneonone.web.meetings import meeting_views
from oneonone.web.people.pair_forms import PairForm
from tests.security.world import MISSING, World

Patch = pytest.MonkeyPatch
Find = Callable[[World], Any]
NO_NUMBER = 2**31 - 7  # no session has it


@dataclass(frozen=True)
class Crossing:
    """A name that means a row. ``hidden`` are ids that are refused with ``status`` and the same bytes as a
    missing one; ``seen`` are ids of what the actor may read and not change here, refused with theirs."""

    route: str
    name: str
    actor: str
    place: str  # of the thing in the path, empty for none
    taken: Find
    hidden: Mapping[str, Find]
    status: int = 422
    seen: Mapping[str, tuple[Find, int]] = field(default_factory=dict)
    send: Mapping[str, Any] = field(default_factory=dict)
    missing: Any = MISSING
    off: Callable[[Patch], None] | None = None
    asks: bool = False  # it may show first what it would do to the order, which hangs on ties between ids

    @property
    def key(self) -> tuple[str, str]:
        return self.route, self.name

    def __str__(self) -> str:
        return f"{self.route} {self.name}"


def a(kind: str, place: str, state: str = "") -> Find:
    """The id of a thing in the world."""
    return lambda world: next(
        thing.pk for thing in world.things[kind] if thing.place == place and thing.state == state
    )


def person(actor: str) -> Find:
    return lambda world: world.people[actor].pk


FAR_AHEAD = dt.datetime(2990, 1, 1, tzinfo=dt.UTC)


def session_of(actor: str) -> Find:
    """What names a session on the list of its owner, which nobody else sees."""
    return lambda world: (
        Session.objects.get_or_create(
            pk=hash_of_key(f"crossed {actor}"),
            defaults={"person": world.people[actor], "expires_at": FAR_AHEAD},
        )[0].pk
    )


def second_topic(world: World) -> Any:
    """The topic of Ines's meeting with Ruth that is not running."""
    meeting = world.under_way
    return meeting.placements.exclude(pk=meeting.current_id or MISSING).values_list("pk", flat=True)[0]


# --- the checks, taken away
def any_placement(patch: Patch) -> None:
    patch.setattr(named_placement, "named", lambda meeting, pk: Placement.objects.filter(pk=pk).first())
    patch.setattr(record, "_check", lambda *arguments: None)


def any_step(patch: Patch) -> None:
    def to(meeting: Meeting, form: forms.Form) -> Placement | None:
        found = Placement.objects.filter(pk=form.cleaned_data["to"]).first()
        if found is not None:
            found.meeting = meeting
        return found

    patch.setattr(meeting_views, "_to", to)


def any_choice(patch: Patch) -> None:
    patch.setattr(forms.MultipleChoiceField, "valid_value", lambda field, value: True)


def any_place(patch: Patch) -> None:
    patch.setattr(
        placement_views, "_places", lambda *_: [(str(row.pk), "there") for row in Placement.objects.all()]
    )


def anybody(patch: Patch) -> None:
    checked = PairForm.__init__

    def unchecked(form: PairForm, *args: Any, **kwargs: Any) -> None:
        checked(form, *args, **kwargs)
        for name in ("manager", "report"):
            form.fields[name].queryset = Person.objects.all()  # type: ignore[attr-defined]

    patch.setattr(PairForm, "__init__", unchecked)


def any_meeting(patch: Patch) -> None:
    def found(reader: Person, pk: Any) -> Meeting:
        meeting = Meeting.objects.filter(pk=pk).first()
        if meeting is None:
            raise Http404
        return meeting

    patch.setattr(access, "meeting_for_edit", found)


def any_line(patch: Patch) -> None:
    patch.setattr(logbook, "open_lines", lambda reader: list(Line.objects.all()))
    patch.setattr(forms.ChoiceField, "valid_value", lambda field, value: True)


def any_session(patch: Patch) -> None:
    def end(*, person: Person, key_hash: str) -> bool:
        return bool(Session.objects.filter(pk=key_hash).delete()[0])

    patch.setattr(leaving, "end_session", end)


A_LINE = a("line", "unrelated")
PLACEMENTS = {
    "of another line": a("placement", "unrelated", "planned"),
    "of an ended line": a("placement", "ended", "closed"),
    "of another meeting of the line": a("placement", "own", "planned"),
    "of another kind": A_LINE,
}
TOPICS = {
    "of another line": a("topic", "unrelated, of the manager"),
    "of an ended line": a("topic", "ended, of the report"),
    "of another line of one's own": a("topic", "peer, of the report"),
    "of another kind": A_LINE,
}
PEOPLE = {"switched off": person("deactivated"), "of another kind": A_LINE}
HEARD = {"which": "no", "day": "2026-12-02", "held": "yes"}
BOTH_ARE_HERE = {"name": "", "email": ""}
TIME = {"day": "2026-12-15", "time": "11:00"}

CROSSINGS: tuple[Crossing, ...] = (
    Crossing("record-line-add meeting_id", "placement", "report", "own closed",
             a("placement", "own", "closed"), PLACEMENTS, off=any_placement),
    Crossing("commitment-take-on meeting_id", "placement", "report", "own closed",
             a("placement", "own", "closed"), PLACEMENTS, off=any_placement),
    # Between meetings there is no topic that it could be: none is taken, an empty one is.
    Crossing("commitment-take-on-between line_id", "placement", "report", "own",
             lambda world: "", PLACEMENTS, off=any_placement),
    Crossing("meeting-go-on meeting_id", "to", "lead", "above under way", second_topic, {
        "of another line": a("placement", "unrelated", "planned"),
        "of an ended line": a("placement", "ended", "closed"),
        "of another line of one's own": a("placement", "aside", "planned"),
        "of another kind": A_LINE,
    }, status=302, off=any_step),
    Crossing("line-we-met line_id", "discussed", "manager", "own", a("placement", "own", "planned"), {
        "of another line": a("placement", "unrelated", "planned"),
        "of an ended line": a("placement", "ended", "closed"),
        "of another line of one's own": a("placement", "above", "under way"),
        "of another kind": A_LINE,
    }, send=HEARD, off=any_choice),
    Crossing("meeting-held meeting_id", "discussed", "manager", "own planned",
             a("placement", "own", "planned"), {
        "of another line": a("placement", "unrelated", "planned"),
        "of an ended line": a("placement", "ended", "closed"),
        "of another line of one's own": a("placement", "above", "under way"),
        "of another kind": A_LINE,
    }, send=HEARD, off=any_choice),
    Crossing("topic-add line_id", "after", "manager", "own", a("topic", "own, of the report"), TOPICS,
             off=any_choice),
    Crossing("topic-edit topic_id", "after", "manager", "own, of the manager",
             a("topic", "own, of the report"), TOPICS, off=any_choice, asks=True),
    Crossing("placement-move placement_id", "place", "manager", "own planned", lambda world: "end", {
        **PLACEMENTS, "of another meeting of the line": a("placement", "own", "closed"),
    }, off=any_place),
    Crossing("people-line-new", "manager", "administrator", "", person("outsider"), PEOPLE, off=anybody),
    Crossing("people-line-new", "report", "administrator", "", person("other report"), PEOPLE,
             send=BOTH_ARE_HERE, off=anybody),
    Crossing("absence-propose day_away_id", "meeting", "report", "of the report",
             a("meeting", "own", "planned"), {
        "of another line": a("meeting", "unrelated", "planned"),
        "of another kind": A_LINE,
    }, status=404, seen={"of an ended line": (a("meeting", "ended", "closed"), 403)}, send=TIME,
        off=any_meeting),
    Crossing("prepare-leave entry_id", "meeting", "report", "of the report",
             a("meeting", "own", "planned"), {
        "of another line": a("meeting", "unrelated", "planned"),
        "of another kind": A_LINE,
    }, status=404, seen={"of an ended line": (a("meeting", "ended", "closed"), 403)}, off=any_meeting),
    Crossing("logbook-bring entry_id", "line", "report", "of the report", a("line", "own"), {
        "of other people": a("line", "unrelated"),
        "that has ended": a("line", "ended"),
        "of another kind": a("meeting", "own", "planned"),
    }, send={"title": "Brought"}, off=any_line),
    Crossing("session-end", "session", "administrator", "", session_of("administrator"), {
        "of somebody else": session_of("report"),
        "of an account that is off": session_of("deactivated"),
    }, status=302, missing=NO_NUMBER, off=any_session),
    # A filter: what is not somebody's account has no events. Who may filter is asked before.
    Crossing("audit", "person", "administrator", "", person("outsider"), {
        "of another kind": A_LINE,
        "somebody's notice": a("notice", "of the report"),
    }, status=200),
)  # fmt: skip

# Names that a view takes as they come, and that mean no row.
NAMES_NO_ROW = {
    "<TAKEN>": "a digest of the order that was shown",
    "<change_confirmation.AGAIN>": "which page it is asked on",
    "minute": "a time of day",
    "release": "which button was pressed",
    "early": "yes or no",
    "drop": "yes or no",
    "how": "one of three words",
    "done": "yes or no",
    "kind": "one of five words",
    "version": "which state of the row in the path was read",
    "revision": "which state of the note at the row in the path was read",
    "notes": "whether notes are printed",
    "next": "an address of this server, whose own door asks (test_bad_input.py)",
    "day": "a date",
    "which": "yes or no",
    "side": "one of two words",
    "owner": "one of two words",
    "answer": "one of two words",
    "unclear": "yes or no",
    "must": "yes or no",
    "uses": "yes or no",
    "propose": "which button was pressed",
    "<PREVIEW>": "which button was pressed",
    "<field>": "the words of the same form",
    "page": "a number of a page",
    "lines": "a number of a page",
    "ended": "a number of a page",
    "commitments": "a number of a page",
    "words": "what is looked for",
    "everyone": "yes or no",
    "order": "one of two words",
    "step": "one of a few words",
    "country": "a country",
    "subdivision": "a part of a country",
}
# Names that mean a row on other routes.
NO_ROW_THERE = {
    ("placement-start placement_id", "place"): "shown beside its own form, and read by placement-move",
    ("placement-bring-in placement_id", "place"): "shown beside its own form, and read by placement-move",
    ("demo-mail", "to"): "an address, of those that the demo has mails to",
}
# A key that the sender makes up, of their own act alone (tested by itself in test_crossings.py).
OWN_KEY = "client_key"
