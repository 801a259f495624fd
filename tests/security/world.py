"""The world of the matrix: every actor, and rows of every kind on lines of theirs and of others.

The present is 3 December 2026, 11:00 UTC. Each line has a word of its own in all of its shared texts, and
each person a word of their own in each private one, so that a body tells whose rows are in it.

======================  ==================================================================================
line                    what is on it
======================  ==================================================================================
``own``                 Ines and Tomas: one closed meeting with a record, the next one planned
``peer``                Ines and Maja: one meeting held on paper a month ago, its record frozen; the coming
                        one issued, and one topic moved by hand
``unrelated``           Henrik and Leila: as ``own``
``above``               Ruth and Ines: a meeting under way
``aside``               Ruth and Henrik: planned
``ended``               Pavel and Tomas, ended on 30 November after one closed meeting: the transfer
``invited``             Ines and somebody who has not joined yet
``switched off``        Ines and Dora, whose account was switched off while she was signed in
``unverified``          Ines and Ugo, who has never shown that his address is his
``second factor``       Ines and Tessa, who has given her password and not yet her code
======================  ==================================================================================
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from uuid import UUID

from allauth.mfa.models import Authenticator

from accounts.models import Person
from accounts.services import password_links
from oneonone.models import Deferral, Line, Mail, Meeting, Organisation, Side
from oneonone.services.agenda import issuing, placement_by_hand
from oneonone.services.commitments import commitments, handover
from oneonone.services.lines import lines
from oneonone.services.meetings import held_claims, intervals, meetings
from oneonone.services.notices import mail_wishes, notices
from oneonone.services.people import administration, profile
from oneonone.services.private import logbook, margin, preparation
from oneonone.services.record import record
from tests.cast import make_person
from tests.scene import QUARTERLY, coming_of, make_line, make_topic, placement_of

NOW = dt.datetime(2026, 12, 3, 11, 0, tzinfo=dt.UTC)
MADE = dt.datetime(2026, 9, 7, 9, 0, tzinfo=dt.UTC)
TODAY = NOW.date()
MISSING = UUID("0a1b2c3d-0000-4000-8000-00000000dead")
PASSWORD = "seven lamps on a long quay"

NAMES = {
    "manager": "Ines Okafor",
    "report": "Tomas Lindqvist",
    "peer": "Maja Ferreira",
    "other manager": "Henrik Aalto",
    "other report": "Leila Castell",
    "lead": "Ruth Vandermeer",
    "former manager": "Pavel Novotny",
    "outsider": "Bea Moreau",
    "administrator": "Nils Haverkamp",
    "staff": "Stella Brook",
    "superuser": "Sune Dahl",
    "deactivated": "Dora Quist",
    "unverified": "Ugo Rinaldi",
    "second factor pending": "Tessa Wren",
}


@dataclass(frozen=True)
class Thing:
    """One object that a route can be asked for. ``roles`` says, by hand, what each actor is to it."""

    kind: str
    place: str
    pk: UUID | str
    state: str = ""
    line: str = ""
    roles: Mapping[str, str] = field(default_factory=dict)
    only: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"{self.kind} {self.place} {self.state}".strip()


@dataclass
class World:
    """The people by what they are, the lines by name, the things by kind."""

    people: dict[str, Person] = field(default_factory=dict)
    lines: dict[str, Line] = field(default_factory=dict)
    things: dict[str, list[Thing]] = field(default_factory=dict)

    def add(self, kind: str, place: str, pk: UUID | str, state: str = "", **roles: str) -> None:
        """Note a thing with who is what to it; a line of its own name tells whose words may show with it."""
        line = place.partition(",")[0]
        named = {actor.replace("_", " "): role for actor, role in roles.items()}
        thing = Thing(kind, place, pk, state, line, named, ASKED_BY.get(line, ()))
        self.things.setdefault(kind, []).append(thing)

    @property
    def under_way(self) -> Meeting:
        return Meeting.objects.get(line=self.lines["above"], state=Meeting.State.UNDER_WAY)

    def missing(self, kind: str) -> Thing:
        return Thing(kind, "missing", MISSING if kind not in TOKENS else "no-such-token")


# Lines that are there for one actor alone are not asked for by all the others too.
ASKED_BY = {
    "switched off": ("deactivated", "manager", "outsider"),
    "unverified": ("unverified", "manager", "outsider"),
    "second factor": ("second factor pending", "manager", "outsider"),
    "aside": ("lead", "other manager", "manager", "administrator"),
}
TOKENS = ("invitation", "password link", "setup", "unsubscribe")


# What no text, key or name holds by chance, in any spelling that the canaries look for.
SHARED_CORE, PRIVATE_CORE = "h3Lp8Rb5Yd1Gs7", "q7Zk2Vx9Wm4Tn6"


def shared_word(line: str) -> str:
    """What stands in every shared text of a line, and nowhere else."""
    return f"Pennant{SHARED_CORE}{line.title().replace(' ', '')}"


def private_word(actor: str, line: str) -> str:
    """What stands in everything private that one actor wrote beside a line."""
    return f"Bilge{PRIVATE_CORE}{actor.title()}Of{line.title()}".replace(" ", "")


def make_world() -> World:
    """Everything, through the services; the last step switches the deactivated account off elsewhere."""
    world = World()
    Organisation.objects.create(name="Alder Quay Ferries", created_at=MADE)
    for actor, name in NAMES.items():
        person = make_person(name, administrator=actor == "administrator", verified=actor != "unverified")
        person.is_staff = actor in ("staff", "superuser")
        person.is_superuser = actor == "superuser"
        person.set_password(PASSWORD)
        person.save()
        world.people[actor] = person
    _lines(world)
    for name in ("own", "unrelated", "ended"):
        _closed(world, name)
    for name in ("own", "unrelated", "peer", "above", "aside", "switched off", "unverified", "second factor"):
        _coming(world, name)
    _peer_order(world)
    _under_way(world)
    _end(world)
    _invited(world)
    _entries(world)
    _of_people(world)
    _of_administrators(world)
    return world


SIDES = {
    "own": ("manager", "report"),
    "peer": ("manager", "peer"),
    "unrelated": ("other manager", "other report"),
    "above": ("lead", "manager"),
    "aside": ("lead", "other manager"),
    "ended": ("former manager", "report"),
    "switched off": ("manager", "deactivated"),
    "unverified": ("manager", "unverified"),
    "second factor": ("manager", "second factor pending"),
}
# Neither is ever let in, so neither has a role anywhere.
NEVER_IN = ("deactivated", "unverified", "second factor pending")


def terms(name: str) -> intervals.Terms:
    """The usual interval, whose place names the line; the transferred report met his old manager earlier."""
    usual = replace(QUARTERLY, place=f"Pier office {shared_word(name)}")
    if name == "ended":
        return replace(usual, every=4, anchor=dt.date(2026, 10, 8))
    if name not in ("own", "unrelated", "above"):
        return replace(usual, weekday=3, anchor=dt.date(2026, 12, 9))
    return usual


def sides_of(name: str) -> tuple[str, str]:
    return SIDES[name]


def roles_on(name: str, manager: str = "manager", report: str = "report") -> dict[str, str]:
    """Who is what on an open line; somebody who is never let in is nothing."""
    pair = zip(SIDES[name], (manager, report), strict=True)
    return {actor.replace(" ", "_"): role for actor, role in pair if actor not in NEVER_IN}


def _lines(world: World) -> None:
    for name, (manager, report) in SIDES.items():
        world.lines[name] = make_line(
            world.people[manager],
            world.people[report],
            terms=terms(name),
            actor=world.people["administrator"],
        )
        if name == "ended":
            world.add("line", name, world.lines[name].pk, report="former report")
        else:
            world.add("line", name, world.lines[name].pk, administrator="administrator", **roles_on(name))


def _topics(world: World, name: str, now: dt.datetime) -> None:
    """A topic of each side with a note of each side beside it, and the manager's unclear mark."""
    pair = [world.people[actor] for actor in SIDES[name]]
    for who, author in zip(("manager", "report"), pair, strict=True):
        topic = make_topic(world.lines[name], author, f"Crane slot {shared_word(name)} of {who}", now=now)
        topic.detail = f"As the harbour wrote, {shared_word(name)}."
        topic.save(update_fields=["detail"])
        for actor in SIDES[name]:
            margin.write(
                topic=topic,
                words=f"Ask about {private_word(actor, name)}",
                unclear=True,
                revision=0,
                actor=world.people[actor],
                now=now,
                today=now.date(),
            )
        roles = roles_on(name, "author", "other") if who == "manager" else roles_on(name, "other", "author")
        if name == "ended":
            roles = {}
        if name in ("own", "peer", "unrelated", "ended"):
            world.add("topic", f"{name}, of the {who}", topic.pk, **roles)


def _notes_at(world: World, name: str, meeting: Meeting, now: dt.datetime) -> None:
    for actor in SIDES[name]:
        margin.write(
            meeting=meeting,
            words=f"Before it: {private_word(actor, name)}",
            unclear=False,
            revision=0,
            actor=world.people[actor],
            now=now,
            today=now.date(),
        )


def _closed(world: World, name: str) -> None:
    """One meeting of the line, gone through and closed, with a record and commitments."""
    line, word = world.lines[name], shared_word(name)
    manager, report = (world.people[actor] for actor in SIDES[name])
    meeting = coming_of(line)
    begin, later = meeting.starts_at, meeting.starts_at + dt.timedelta(minutes=12)
    before = begin - dt.timedelta(days=2)
    first = make_topic(line, manager, f"Sunday boats {word}", now=before)
    _notes_at(world, name, meeting, before)
    issuing.issue(meeting=meeting, actor=manager, now=before)
    preparation.mark_read(meeting=meeting, number=1, actor=manager, now=before, today=before.date())
    meetings.start(meeting=meeting, actor=manager, now=begin)
    here = placement_of(first)
    meetings.go_on(meeting=meeting, to=here, continues=False, actor=manager, now=begin)
    said = record.write(
        meeting=meeting, placement=here, kind="said", words=f"Said {word}.", actor=report, now=later
    )
    decided = record.write(
        meeting=meeting, placement=here, kind="decided", words=f"Decided {word}.", actor=manager, now=later
    )
    _commitments(world, name, meeting, later)
    meetings.close(meeting=meeting, actor=manager, now=begin + dt.timedelta(minutes=48))
    if name == "ended":
        world.add("meeting", name, meeting.pk, "closed", report="former report")
        world.add("placement", name, here.pk, "closed", report="former report")
        world.add("record line", f"{name}, of the report", said.pk, report="former author")
        world.add("record line", f"{name}, of the manager", decided.pk, report="former other")
        return
    if name == "own":
        world.add("meeting", name, meeting.pk, "closed", **roles_on(name))
        world.add("placement", name, here.pk, "closed", **roles_on(name))
    world.add("record line", f"{name}, of the report", said.pk, **roles_on(name, "other", "author"))
    world.add("record line", f"{name}, of the manager", decided.pk, **roles_on(name, "author", "other"))


def _commitments(world: World, name: str, meeting: Meeting, now: dt.datetime) -> None:
    line, (manager, report) = world.lines[name], SIDES[name]
    for who, owner, author, state in (
        (Side.MANAGER, manager, manager, "open"),
        (Side.MANAGER, manager, manager, "done"),
        (Side.REPORT, report, report, "open"),
        (Side.REPORT, report, manager, "offered"),
    ):
        made = commitments.take_on(
            line=line,
            owner_side=who,
            action=f"Ask the harbour {shared_word(name)}",
            how_known=f"On the board {shared_word(name)}",
            date=dt.date(2027, 1, 14),
            actor=world.people[author],
            now=now,
            meeting=meeting,
        )
        if state == "done":
            commitments.done(commitment=made, actor=world.people[owner], now=now)
        roles = roles_on(name, "owner", "other") if who is Side.MANAGER else roles_on(name, "other", "owner")
        if name == "ended":
            owners = {Side.MANAGER: {"former_manager": "owner", "report": "other"}}
            roles = owners.get(who, {"report": "owner"})
        world.add("commitment", f"{name}, of the {who.value}", made.pk, state, **roles)
        if name == "own" and state == "open" and who is Side.MANAGER:
            offer = handover.offer(commitment=made, actor=world.people[owner], now=now)
            world.add("proposal", "own, to hand over", offer.pk, **roles_on(name, "asker", "asked"))


def _coming(world: World, name: str) -> None:
    """The coming meeting of the line, with topics and notes; planned unless a later step goes on with it."""
    meeting = coming_of(world.lines[name])
    before = meeting.starts_at - dt.timedelta(days=2) if name == "above" else NOW
    _topics(world, name, before)
    _notes_at(world, name, meeting, before)
    here = meeting.placements.order_by("added_at", "id").first()
    assert here is not None
    state = {"above": "under way", "peer": "issued"}.get(name, "planned")
    world.add("meeting", name, meeting.pk, state, **roles_on(name))
    world.add("placement", name, here.pk, state, **roles_on(name))
    if name in ("own", "unrelated"):
        asker = world.people[SIDES[name][1]]
        other = replace(terms(name), every=6, anchor=dt.date(2027, 1, 14), place=f"Deck {shared_word(name)}")
        offer = intervals.propose(line=world.lines[name], terms=other, actor=asker, now=NOW, today=TODAY)
        world.add("proposal", f"{name}, interval", offer.pk, **roles_on(name, "asked", "asker"))


def _peer_order(world: World) -> None:
    """Maja's meeting is issued, and the first topic of its order moved one place by hand."""
    meeting, manager = coming_of(world.lines["peer"]), world.people["manager"]
    order = issuing.issue(meeting=meeting, actor=manager, now=NOW)
    first = meeting.placements.get(pk=order.plan["slots"][0]["key"])
    placement_by_hand.move(placement=first, places=1, actor=manager, now=NOW)
    # Told a day after, so that its record is closed by now.
    day, told = dt.date(2026, 11, 4), dt.datetime(2026, 11, 5, 9, 0, tzinfo=dt.UTC)
    met = held_claims.we_met(
        line=world.lines["peer"],
        day=day,
        meeting=None,
        discussed=[],
        actor=manager,
        now=told,
        today=told.date(),
    )
    world.add("meeting", "peer", met.pk, "frozen", **roles_on("peer"))
    added = record.add(
        meeting=met, words=f"Later: {shared_word('peer')}.", actor=world.people[SIDES["peer"][1]], now=NOW
    )
    world.add("record addition", "peer, of the report", added.pk, **roles_on("peer", "other", "author"))


def _under_way(world: World) -> None:
    """Ines's meeting with Ruth has begun, at its first topic."""
    meeting, lead = coming_of(world.lines["above"]), world.people["lead"]
    meetings.start(meeting=meeting, actor=lead, now=meeting.starts_at)
    first = meeting.placements.order_by("added_at", "id").first()
    meetings.go_on(meeting=meeting, to=first, continues=False, actor=lead, now=meeting.starts_at)


def _end(world: World) -> None:
    """Tomas is transferred: what Pavel and he had ends. A topic of theirs was still on the list."""
    gone = dt.datetime(2026, 11, 30, 16, 0, tzinfo=dt.UTC)
    _topics(world, "ended", gone - dt.timedelta(days=1))
    coming = coming_of(world.lines["ended"])
    lines.end(line=world.lines["ended"], actor=world.people["administrator"], now=gone, today=gone.date())
    world.add("meeting", "ended, never held", coming.pk, "called off")


def _invited(world: World) -> None:
    """A line that waits for somebody, the link to it, and one of an invitation that has run out."""
    for place, made_at in (("invited", NOW), ("invited long ago", MADE)):
        made = lines.create(
            actor=world.people["manager"],
            now=made_at,
            today=made_at.date(),
            terms=replace(terms("own"), place=f"Slipway {shared_word(place)}", anchor=dt.date(2027, 1, 7)),
            manager=world.people["manager"],
            invited=lines.Invited(
                name="Ada Brook", email=f"{place.replace(' ', '.')}@example.org", side=Side.REPORT
            ),
        )
        assert made.token
        world.lines[place] = made.line
        state = "new" if made_at == NOW else ""
        world.add("line", place, made.line.pk, state, administrator="administrator", manager="manager")
        world.add("invitation", place, made.token, "open" if place == "invited" else "over")


def _of_administrators(world: World) -> None:
    """Accounts, one with a second factor, and a closing day: what administrators alone act on."""
    finn = make_person("Finn Aalto")
    Authenticator.objects.create(user=finn, type="totp", data={})
    for place, person in (("outsider", world.people["outsider"]), ("with an app", finn)):
        world.add("person", place, person.pk, administrator="administrator")
    for state, made_at in (("open", NOW), ("over", MADE)):
        token = password_links.issue(person=finn, issuer=None, now=made_at)
        world.add("password link", state, token, state)
    closed = administration.add_closing_day(
        day=dt.date(2027, 5, 3), actor=world.people["administrator"], now=NOW, today=NOW.date()
    )
    world.add("closing day", "", closed.pk, administrator="administrator")
    lost = Mail.objects.create(
        kind=Mail.Kind.ACCOUNT,
        person=finn,
        to_address=finn.email,
        state=Mail.State.UNKNOWN,
        message_id="<lost@example.org>",
        not_before=NOW,
        created_at=NOW,
    )
    world.add("mail", "", lost.pk, administrator="administrator")
    aside = Deferral.objects.create(job="invite", subject=finn.pk, until=NOW, error="ZeroDivisionError")
    world.add("deferral", "", aside.pk, administrator="administrator")


def _entries(world: World) -> None:
    """An entry in the logbooks of both sides of the line of Ines and Tomas."""
    for who, actor in zip(("manager", "report"), SIDES["own"], strict=True):
        entry = logbook.add(
            kind="achievement",
            line=f"Ask about {private_word(actor, 'logbook')}",
            details={"worth": private_word(actor, "logbook")},
            event_on=TODAY,
            actor=world.people[actor],
            now=NOW,
            today=TODAY,
        )
        world.add("entry", f"of the {who}", entry.pk, **{actor: "owner"})


def _of_people(world: World) -> None:
    """Notices and days away: each is one person's own."""
    for actor in ("manager", "report", "other report", "former manager"):
        person = world.people[actor]
        notice = notices.owe(kind="joined", person=person, subject=person.pk, now=NOW)
        world.add("unsubscribe", f"of the {actor}", mail_wishes.token_for(person))
        world.add("notice", f"of the {actor}", notice.pk, **{actor.replace(" ", "_"): "owner"})
        away = profile.add_days_away(
            actor=person, first=dt.date(2027, 2, 1), last=dt.date(2027, 2, 5), now=NOW
        )
        world.add("day away", f"of the {actor}", away.pk, **{actor.replace(" ", "_"): "owner"})
