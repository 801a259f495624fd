"""The table of who reaches what: one row for each route, written by hand, never asked of the code it judges.

``Row(name, id, kind, methods, who)``: the route's name and the id in its path, the kind of thing it is
asked for, the methods it has, and for each role towards that thing whether it is let IN or told that the
thing is NOT_THEIRS (403). A role that is not named gets what a missing thing gets (404), whoever is not
signed in is sent to sign in (302), and a method that is not named is refused (405).

To add a route add its row, and to ``world.py`` a thing of its kind where there is none yet. ``send`` is what
a POST has to carry to be accepted; ``get`` and ``post`` are the statuses of those let in, by the state of
the thing where they differ; ``acts`` is whether a POST can do anything in this world. ``shows`` is ``line``
when only words of the thing's own line may be on the page, ``own`` for words of any line of the reader's,
``nothing`` for none at all.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

IN, NOT_THEIRS = "in", "not theirs"
GET, POST, BOTH = ("GET",), ("POST",), ("GET", "POST")
ELSE, SIGNED_OUT = "else", "signed out"

# Roles of everybody signed in, for pages that are about no row.
EVERYBODY = {"signed in": IN}
ADMINISTRATORS = {"administrator of the server": IN}
ANYBODY = {"anybody": IN}

SIDES = {"manager": IN, "report": IN}
READ = SIDES | {"former report": IN}
WRITE = SIDES | {"former report": NOT_THEIRS}
MANAGER = {"manager": IN, "report": NOT_THEIRS, "former report": NOT_THEIRS}
KEEPERS = {"manager": IN, "report": NOT_THEIRS, "administrator": IN}
TOPIC = {"author": IN, "other": IN}
AUTHOR = {"author": IN, "other": NOT_THEIRS, "former author": NOT_THEIRS, "former other": NOT_THEIRS}
OWNER = {"owner": IN, "other": NOT_THEIRS}
ASKED = {"asked": IN, "asker": NOT_THEIRS}

# States of a meeting in which an act is taken; in any other the form comes back with the reason.
BEFORE: Mapping[str, int] = {"planned": 302, "issued": 302, ELSE: 422}
WRITTEN_UP: Mapping[str, int] = {"under way": 302, "closed": 302, ELSE: 422}

Send = Mapping[str, Any] | Callable[[Any], Mapping[str, Any]]
Status = int | Mapping[str, int]


@dataclass(frozen=True)
class Row:
    name: str
    id: str
    kind: str
    methods: tuple[str, ...]
    who: Mapping[str, str]
    send: Send = field(default_factory=dict)
    get: Status = 200
    post: Status = 302
    shows: str = "line"
    acts: bool = True

    @property
    def key(self) -> str:
        return f"{self.name} {self.id}".strip()

    def status(self, method: str, *states: str) -> int:
        """What somebody let in gets for a thing in the first of these states that the row knows."""
        given = self.post if method == "POST" else self.get
        if isinstance(given, int):
            return given
        return next(given[state] for state in (*states, ELSE) if state in given)


KEY = UUID("0a1b2c3d-0000-4000-8000-0000000000a1")
INTERVAL = {
    "every": 4, "unit": "weeks", "first_day": "2027-04-06", "month_day": "weekday", "time": "10:00",
    "minutes": 40, "zone": "Europe/London",
}  # fmt: skip
INVITED = {"name": "Jon Sedge", "email": "jon.sedge@example.org", "side": "report", "client_key": KEY}
LOG = {"line": "Bollards painted", "kind": "achievement", "event_on": "yesterday", "client_key": KEY}
NOT_DONE = {"reason": "time", "next_step": "Ask for paint", "revision": 0, "version": 1}
TAKE_ON = {"owner": "me", "action": "Paint the bollards", "date": "2027-01-20", "client_key": KEY}
PROFILE = {
    "name": "Ada Brook", "zone": "Europe/Oslo", "working_week": [0, 1, 2], "country": "", "subdivision": "",
    "quiet_from": "20:00", "quiet_to": "07:00",
}  # fmt: skip
CONTACTS = {
    "note": "By the written procedure.", "version": 1,
    "contacts-TOTAL_FORMS": 1, "contacts-INITIAL_FORMS": 0,
    "contacts-0-kind": "safety", "contacts-0-name": "Harbour desk", "contacts-0-how": "Room 4",
}  # fmt: skip
SET_UP = {
    "organisation": "Skerry Freight", "name": "Ada Brook", "email": "ada@example.org",
    "password": "eleven gulls on a wet roof", "zone": "Europe/London",
}  # fmt: skip
JOIN = {"name": "Ada Brook", "password": "eleven gulls on a wet roof", "zone": "Europe/London"}
TOPIC_WORDS = {
    "title": "Paint for the bollards", "kind": "update", "outcome_wanted": "inform", "minutes_wanted": 6,
}  # fmt: skip
# Minutes that make another order are asked about first; these are the ones the topics have.
AS_IT_IS = {"minutes_wanted": 5, "minutes_least": 3, "version": 1}

# fmt: off
ROWS: tuple[Row, ...] = (
    # --- the reader's own pages
    Row("next", "", "", GET, EVERYBODY, shows="own"),
    Row("notice-read", "notice_id", "notice", POST, {"owner": IN}),
    Row("notices-read", "", "", POST, EVERYBODY),
    Row("lines", "", "", GET, EVERYBODY, shows="own"),
    Row("notes-search", "", "", BOTH, EVERYBODY, {"words": "ask about"}, post=200, shows="own", acts=False),
    Row("logbook", "", "", BOTH, EVERYBODY, {"words": "Ask"}, post=200, shows="own", acts=False),
    Row("logbook-add", "", "", BOTH, EVERYBODY, LOG, shows="nothing"),
    Row("logbook-achievements", "", "", GET, EVERYBODY, shows="own"),
    Row("logbook-export-md", "", "", GET, EVERYBODY, shows="own"),
    Row("logbook-export-csv", "", "", GET, EVERYBODY, shows="own"),
    Row("logbook-export-json", "", "", GET, EVERYBODY, shows="own"),
    Row("logbook-entry", "entry_id", "entry", BOTH, {"owner": IN}, LOG | {"revision": 1}, shows="own"),
    Row("logbook-remove", "entry_id", "entry", BOTH, {"owner": IN}, shows="own"),
    Row("logbook-bring", "entry_id", "entry", BOTH, {"owner": IN}, lambda world: {
        "title": "Brought", "line": world.lines["own"].pk, "client_key": KEY}, shows="own"),
    Row("logbook-take-back", "entry_id", "entry", POST, {"owner": IN}, acts=False),
    Row("prepare-leave", "entry_id", "entry", POST, {"owner": IN}, lambda world: {
        "meeting": next(one.pk for one in world.things["meeting"] if str(one) == "meeting own planned")}),
    Row("keys", "", "", GET, EVERYBODY, shows="nothing"),
    Row("commitments", "", "", GET, EVERYBODY, shows="own"),
    Row("commitments-export", "", "", GET, EVERYBODY, shows="own"),
    Row("line-new", "", "", BOTH, EVERYBODY, INTERVAL | INVITED, shows="nothing"),
    Row("settings", "", "", GET, EVERYBODY, shows="nothing"),
    Row("sessions", "", "", GET, EVERYBODY, shows="nothing"),
    Row("session-end", "", "", POST, EVERYBODY, {"session": "others"}, shows="nothing", acts=False),
    Row("settings-profile", "", "", POST, EVERYBODY, PROFILE, shows="nothing"),
    Row("settings-mail", "", "", POST, EVERYBODY, {"digest_at": "07:30", "mail_of": ["today"]},
        shows="nothing"),
    Row("days-away-add", "", "", POST, EVERYBODY, {"first": "2027-03-01"}, shows="nothing"),
    Row("days-away-remove", "day_away_id", "day away", POST, {"owner": IN}),
    Row("absence", "day_away_id", "day away", GET, {"owner": IN}, shows="nothing"),
    Row("absence-propose", "day_away_id", "day away", POST, {"owner": IN}, post=404, acts=False),

    Row("contacts", "", "", GET, EVERYBODY, shows="nothing"),
    Row("privacy", "", "", GET, ANYBODY, shows="nothing"),
    # --- leads and administrators: no words of any line
    Row("cadence", "", "", GET, EVERYBODY, shows="nothing"),
    Row("cadence-csv", "", "", GET, EVERYBODY, shows="nothing"),
    Row("find-times", "", "", GET, EVERYBODY, shows="nothing"),
    # Without a file the page says what is missing; tests/web/cadence/test_busy_times.py sends one.
    Row("busy-times-read", "", "", POST, EVERYBODY, post=422, shows="nothing", acts=False),
    Row("busy-times-remove", "", "", POST, EVERYBODY, shows="nothing"),
    Row(
        "find-times-take",
        "line_id",
        "line",
        POST,
        MANAGER,
        {"day": "2026-12-08", "time": "15:00", "client_key": KEY},
    ),
    Row("people", "", "", GET, ADMINISTRATORS, shows="nothing"),
    Row("people-line-new", "", "", BOTH, ADMINISTRATORS, lambda world: INTERVAL | INVITED | {
        "manager": world.people["outsider"].pk}, shows="nothing"),
    Row("people-line-confirm", "line_id", "line", POST, {"administrator": IN}, shows="nothing"),
    Row("contacts-edit", "", "", BOTH, ADMINISTRATORS, CONTACTS, shows="nothing"),
    Row("server-settings", "", "", BOTH, ADMINISTRATORS, {"second_factor_for": "nobody", "version": 1},
        shows="nothing"),
    Row("closing-day-add", "", "", POST, ADMINISTRATORS, {"day": "2027-03-03"}, shows="nothing"),
    Row("closing-day-remove", "closing_day_id", "closing day", POST, {"administrator": IN}, shows="nothing"),
    Row("audit", "", "", GET, ADMINISTRATORS, shows="nothing"),
    Row("background", "", "", GET, ADMINISTRATORS, shows="nothing"),
    Row("background-test-mail", "", "", POST, ADMINISTRATORS, shows="nothing", acts=False),
    Row("background-try-again", "deferral_id", "deferral", POST, {"administrator": IN}, shows="nothing"),
    Row("mails", "", "", GET, ADMINISTRATORS, shows="nothing"),
    Row("mail-looked-at", "mail_id", "mail", POST, {"administrator": IN}, shows="nothing"),
    Row("account", "person_id", "person", GET, {"administrator": IN}, shows="nothing"),
    Row("account-close", "person_id", "person", BOTH, {"administrator": IN}, shows="nothing"),
    Row("account-reopen", "person_id", "person", POST, {"administrator": IN}, shows="nothing", acts=False),
    # Mail leaves in this world, so no link is made; one is in tests/web/account/test_password_link.py.
    Row("account-password", "person_id", "person", BOTH, {"administrator": IN}, get=302, shows="nothing",
        acts=False),
    Row("account-factor", "person_id", "person", BOTH, {"administrator": IN}, shows="nothing"),
    Row("account-hold", "person_id", "person", POST, {"administrator": IN}, shows="nothing"),
    Row("account-hold-lift", "person_id", "person", POST, {"administrator": IN}, shows="nothing", acts=False),
    Row("account-erase", "person_id", "person", BOTH, {"administrator": IN}, shows="nothing"),
    # --- links that were given away
    Row("invitation", "token", "invitation", GET, ANYBODY, get={"over": 410, ELSE: 200}, shows="nothing"),
    Row("invitation-accept", "token", "invitation", POST, ANYBODY, JOIN, shows="nothing",
        post={"over": 410, f"open {SIGNED_OUT}": 302, ELSE: 422}),
    Row("new-password", "token", "password link", BOTH, ANYBODY, {"password": "the ninth lamp is out again"},
        get={"over": 410, ELSE: 200}, post={"over": 410, ELSE: 302}, shows="nothing"),
    # Without a token of its form: a mail program posts to it, and the link is what it shows.
    Row("unsubscribe", "token", "unsubscribe", BOTH, ANYBODY, {"List-Unsubscribe": "One-Click"}, post=200,
        shows="nothing"),
    Row("setup", "token", "setup", BOTH, ANYBODY, SET_UP, post=422, shows="nothing", acts=False),
    # --- lines
    Row("line", "line_id", "line", GET, READ),
    Row("line-interval", "line_id", "line", BOTH, WRITE, INTERVAL),
    Row("line-pause", "line_id", "line", BOTH, KEEPERS, {"first": "2027-01-04"}),
    Row("line-resume", "line_id", "line", POST, KEEPERS),
    Row("line-end", "line_id", "line", BOTH, KEEPERS),
    Row("line-invite-again", "line_id", "line", POST, KEEPERS),
    Row("line-history", "line_id", "line", POST, WRITE, {"uses": "0"}),
    Row("line-we-met", "line_id", "line", BOTH, WRITE, {"day": "2026-11-05", "which": "no"},
        post={"new": 422, ELSE: 302}),
    Row("line-extra", "line_id", "line", BOTH, WRITE, {
        "day": "2027-01-05", "time": "10:00", "minutes": 30, "client_key": KEY}),
    Row("topic-add", "line_id", "line", BOTH, WRITE, TOPIC_WORDS | {"client_key": KEY}),
    Row("commitment-take-on-between", "line_id", "line", BOTH, WRITE, TAKE_ON),
    # --- meetings
    Row("meeting", "meeting_id", "meeting", GET, READ),
    Row("meeting-opening", "meeting_id", "meeting", GET, READ),
    Row("meeting-as-they-see-it", "meeting_id", "meeting", GET, READ),
    Row("meeting-prepare", "meeting_id", "meeting", GET, WRITE, shows="own"),
    Row("prepare-tick", "meeting_id", "meeting", POST, WRITE, {"step": "notes"}),
    Row("meeting-invite", "meeting_id", "meeting", BOTH, MANAGER, {"words": "Bring the tide table."},
        post=BEFORE),
    Row("meeting-issue", "meeting_id", "meeting", POST, WRITE),
    Row("order-undo", "meeting_id", "meeting", POST, WRITE),
    # Both of these are asked about where they change the order of the meeting in that state.
    Row("order-anew", "meeting_id", "meeting", POST, WRITE, post={"issued": 200, ELSE: 302}),
    Row("how-order", "meeting_id", "meeting", GET, READ),
    Row("order-read", "meeting_id", "meeting", POST, WRITE, {"number": 1}),
    Row("meeting-start", "meeting_id", "meeting", BOTH, WRITE, {"early": "yes"},
        get={"planned": 200, "issued": 200, ELSE: 302}),
    Row("meeting-not-started", "meeting_id", "meeting", POST, WRITE),
    Row("meeting-live", "meeting_id", "meeting", GET, READ, get={"under way": 200, ELSE: 302}),
    Row("meeting-go-on", "meeting_id", "meeting", POST, WRITE,
        lambda world: {"to": "", "version": world.under_way.version}),
    Row("meeting-close", "meeting_id", "meeting", POST, WRITE),
    Row("meeting-move", "meeting_id", "meeting", BOTH, WRITE, {"day": "2026-12-10", "time": "11:00"},
        post=BEFORE),
    Row("meeting-call-off", "meeting_id", "meeting", BOTH, WRITE),
    Row("meeting-held", "meeting_id", "meeting", BOTH, WRITE, {"held": "no"},
        post={"closed": 302, "frozen": 302, ELSE: 422}),
    Row("margin-write", "meeting_id", "meeting", BOTH, WRITE, {"words": "Ask", "revision": 1}),
    Row("record", "meeting_id", "meeting", GET, READ, get={"closed": 200, "frozen": 200, ELSE: 302}),
    Row("record-line-add", "meeting_id", "meeting", BOTH, WRITE, {
        "kind": "said", "words": "The paint is here.", "client_key": KEY}, post=WRITTEN_UP),
    Row("record-addition-add", "meeting_id", "meeting", BOTH, WRITE, {
        "words": "The paint came later.", "client_key": KEY},
        post={"frozen": 302, ELSE: 422}),
    Row("record-seen", "meeting_id", "meeting", POST, WRITE),
    Row("commitment-take-on", "meeting_id", "meeting", BOTH, WRITE, TAKE_ON, post=WRITTEN_UP),
    Row("record-line-edit", "record_line_id", "record line", BOTH, AUTHOR, {
        "words": "Said otherwise.", "version": 1}),
    Row("record-line-remove", "record_line_id", "record line", BOTH, AUTHOR),
    Row("record-addition-remove", "record_addition_id", "record addition", BOTH, AUTHOR),
    # --- topics
    Row("topic-edit", "topic_id", "topic", BOTH, AUTHOR, TOPIC_WORDS | AS_IT_IS),
    Row("topic-withdraw", "topic_id", "topic", BOTH, AUTHOR),
    Row("topic-park", "topic_id", "topic", POST, TOPIC),
    Row("topic-unpark", "topic_id", "topic", POST, TOPIC),
    Row("topic-importance", "topic_id", "topic", POST, TOPIC, {"importance": "in_turn"}),
    Row("topic-third-time", "topic_id", "topic", POST, TOPIC, {"drop": "0"}, acts=False),
    Row("margin-write", "topic_id", "topic", BOTH, TOPIC, {"words": "Ask", "revision": 1}),
    Row("margin-unclear", "topic_id", "topic", POST, TOPIC, {"unclear": "0"}),
    Row("placement", "placement_id", "placement", GET, READ),
    Row("placement-why", "placement_id", "placement", GET, READ),
    Row("placement-must", "placement_id", "placement", POST, WRITE, post={"under way": 200, ELSE: 302}),
    Row("placement-move", "placement_id", "placement", BOTH, WRITE, {"places": 1}),
    Row("placement-start", "placement_id", "placement", POST, WRITE, {"release": 1}, acts=False),
    Row("placement-bring-in", "placement_id", "placement", POST, WRITE, acts=False),
    # --- answers and commitments
    Row("proposal-answer", "proposal_id", "proposal", POST, ASKED, {"answer": "accept"}),
    Row("proposal-withdraw", "proposal_id", "proposal", POST, {"asker": IN, "asked": NOT_THEIRS}, acts=False),
    Row("commitment-confirm", "commitment_id", "commitment", POST, OWNER),
    Row("commitment-decline", "commitment_id", "commitment", POST, OWNER),
    Row("commitment-done", "commitment_id", "commitment", POST, OWNER),
    Row("commitment-drop", "commitment_id", "commitment", POST, OWNER),
    Row("commitment-reopen", "commitment_id", "commitment", POST, OWNER),
    Row("commitment-forecast", "commitment_id", "commitment", POST, OWNER, {"forecast": "may_slip"}),
    Row("commitment-date", "commitment_id", "commitment", BOTH, OWNER, {
        "date": "2027-02-10", "reason": "Ice.", "basis": "", "version": 1},
        post={"done": 422, ELSE: 302}),
    Row("commitment-cue", "commitment_id", "commitment", BOTH, OWNER, {"cue_on": "2027-02-03"},
        post={"done": 422, ELSE: 302}),
    Row("commitment-keep", "commitment_id", "commitment", POST, OWNER),
    Row("commitment-hand-over", "commitment_id", "commitment", BOTH, OWNER),
    Row("commitment-not-done", "commitment_id", "commitment", BOTH, OWNER, NOT_DONE),
    Row("commitment-tell", "commitment_id", "commitment", BOTH, OWNER, {
        "title": "I wait for paint", "client_key": KEY}),
    Row("commitment-log", "commitment_id", "commitment", POST, OWNER, post={"done": 302, ELSE: 404}),
    Row("commitment-ask-feedback", "commitment_id", "commitment", POST, OWNER, post={"done": 302, ELSE: 404}),
    Row("prepare-commitment", "commitment_id", "commitment", POST, OWNER, {"how": "may_slip"}),
)
# fmt: on

# Only the demo has these; its matrix is run with them added.
DEMO_ROWS: tuple[Row, ...] = (
    # With this step the clock stays where it is; that it moves on is tested with the page.
    Row("demo-move-on", "", "", POST, ANYBODY, {"step": "none"}, shows="nothing"),
    Row("demo-mail", "", "", GET, ADMINISTRATORS, shows="nothing"),
)
