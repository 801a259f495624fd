"""Who reaches the pages of a meeting: asked of every address there is, so that none is left out."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from uuid import UUID, uuid4

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import URLPattern, reverse

from accounts.models import Person
from oneonone.models import Line, Meeting, RecordAddition, RecordLine
from oneonone.services.commitments import handover
from oneonone.services.lines import lines
from oneonone.services.record import record
from oneonone.web.agenda import urls as agenda_urls
from oneonone.web.commitments import urls as commitment_urls
from oneonone.web.meetings import urls as meeting_urls
from oneonone.web.notices import urls as notice_urls
from oneonone.web.private import urls as private_urls
from oneonone.web.record import urls as record_urls
from tests.cast import ClientFor, body_of, queries
from tests.scene import DURING, Brought, TakenOn, placement_of

# Those about a row: a page that is about none is the same for everybody who is signed in.
PLACES = ("meetings/", "topics/", "placements/", "record", "commitments/", "proposals/", "lines/")
NOUNS = (agenda_urls, commitment_urls, meeting_urls, notice_urls, private_urls, record_urls)
PATTERNS: list[URLPattern] = [
    page
    for noun in NOUNS
    for page in noun.urlpatterns
    if page.pattern.converters and str(page.pattern).startswith(PLACES)
]
ASKS = [(pattern, method) for pattern in PATTERNS for method in pattern.callback.methods]  # type: ignore[attr-defined]

# Whose rows the world below holds: the other side sees them, and may not do this to them.
NOT_FOR_THE_REPORT = {
    "meeting-invite",
    "topic-edit",
    "topic-withdraw",
    "record-line-edit",
    "record-line-remove",
    "record-addition-remove",
    "proposal-withdraw",
    "commitment-confirm",
    "commitment-decline",
    "commitment-done",
    "commitment-drop",
    "commitment-reopen",
    "commitment-forecast",
    "commitment-date",
    "commitment-hand-over",
    "commitment-keep",
    "commitment-cue",
    "commitment-not-done",
    "commitment-tell",
    "commitment-log",
    "commitment-ask-feedback",
    "prepare-commitment",
}
# Only there for a commitment that is done, which the one in the world below is not at first.
ONCE_DONE = {"commitment-log", "commitment-ask-feedback"}
NOT_FOR_THE_MANAGER = {"proposal-answer"}
# What a report still reads of a line that has ended: the record that was kept, and what led to it.
KEPT_FOR_THE_REPORT = {
    "meeting-opening",
    "how-order",
    "meeting",
    "meeting-live",
    "meeting-as-they-see-it",
    "placement",
    "placement-why",
    "record",
}


@dataclass(frozen=True)
class World:
    """The ids of one meeting under way. Topic, line of the record, commitment, proposal: the manager's."""

    meeting_id: UUID
    topic_id: UUID
    placement_id: UUID
    line_id: UUID
    record_line_id: UUID
    record_addition_id: UUID
    commitment_id: UUID
    proposal_id: UUID


@pytest.fixture
def world(under_way_meeting: Meeting, brought: Brought, taken_on: TakenOn, manager: Person) -> World:
    said: RecordLine = record.write(
        meeting=under_way_meeting, kind="said", words="The tide is at six.", actor=manager, now=DURING
    )
    added = RecordAddition.objects.create(
        meeting=under_way_meeting, author=manager, words="And again at noon.", at=DURING
    )
    offer = handover.offer(commitment=taken_on.managers, actor=manager, now=DURING)
    return World(
        meeting_id=under_way_meeting.pk,
        topic_id=brought.crane.pk,
        placement_id=placement_of(brought.crane).pk,
        line_id=under_way_meeting.line_id,
        record_line_id=said.pk,
        record_addition_id=added.pk,
        commitment_id=taken_on.managers.pk,
        proposal_id=offer.pk,
    )


def address(pattern: URLPattern, world: World | None = None) -> str:
    """The page of what is in the world, or of what is nowhere."""
    kwarg = next(iter(pattern.pattern.converters))
    value = getattr(world, kwarg) if world is not None else uuid4()
    return reverse(str(pattern.name), kwargs={kwarg: value})


def ask(client: Client, method: str, path: str) -> HttpResponse:
    answer: HttpResponse = client.generic(method, path)  # type: ignore[assignment]
    return answer


def test_whoever_is_no_side_of_the_line_gets_what_a_missing_page_gives(
    world: World,
    client_for: ClientFor,
    outsider: Person,
    peer_line: Line,
    peer: Person,
    lead_line: Line,
    lead: Person,
    administrator: Person,
    superuser: Person,
) -> None:
    for stranger in (outsider, peer, lead, administrator, superuser):
        client = client_for(stranger)
        for pattern, method in ASKS:
            hidden = ask(client, method, address(pattern, world))
            assert hidden.status_code == 404, f"{stranger.name}: {method} {pattern.name}"
            assert body_of(hidden) == body_of(ask(client, method, address(pattern)))


def test_nobody_gets_in_without_signing_in(world: World) -> None:
    for pattern, method in ASKS:
        answer = ask(Client(), method, address(pattern, world))
        assert answer.status_code == 302, f"{method} {pattern.name}"
        assert answer.headers["Location"].startswith(reverse("account_login"))


def test_other_methods_are_refused(client_for: ClientFor, manager: Person) -> None:
    client = client_for(manager)
    for pattern in PATTERNS:
        allowed = {method for known, method in ASKS if known is pattern}
        for method in {"GET", "POST", "PUT", "PATCH", "DELETE"} - allowed:
            assert ask(client, method, address(pattern)).status_code == 405, f"{method} {pattern.name}"


def test_an_id_that_is_none_leads_nowhere(client_for: ClientFor, manager: Person) -> None:
    client = client_for(manager)
    for pattern, method in ASKS:
        page = address(pattern).split("/")
        page[page.index(str(pattern.pattern).split("/")[0]) + 1] = "17"
        assert ask(client, method, "/".join(page)).status_code == 404, f"{method} {pattern.name}"


@pytest.mark.parametrize("side", ["manager", "report"])
def test_a_side_gets_in_where_the_row_is_theirs_to_change(
    side: str, world: World, client_for: ClientFor, manager: Person, report: Person
) -> None:
    person, kept_out = (manager, NOT_FOR_THE_MANAGER) if side == "manager" else (report, NOT_FOR_THE_REPORT)
    client = client_for(person)
    for pattern, method in sorted(ASKS, key=lambda asked: asked[1]):
        status = ask(client, method, address(pattern, world)).status_code
        expected: tuple[int, ...] = (403,) if pattern.name in kept_out else (200, 302, 422)
        if pattern.name in ONCE_DONE and pattern.name not in kept_out:
            expected = (302, 404)
        assert status in expected, f"{method} {pattern.name}: {status}"


def test_looking_changes_nothing(world: World, client_for: ClientFor, manager: Person) -> None:
    client = client_for(manager)
    with queries() as made:
        for pattern, method in ASKS:
            if method == "GET":
                ask(client, method, address(pattern, world))
    changes = ('INSERT INTO "oneonone_', 'UPDATE "oneonone_', 'DELETE FROM "oneonone_')
    written = [one["sql"] for one in made if one["sql"].startswith(changes)]
    assert written == []


def test_once_the_line_has_ended_nobody_changes_anything_and_the_manager_sees_nothing(
    world: World, client_for: ClientFor, manager: Person, report: Person, administrator: Person
) -> None:
    gone = DURING + dt.timedelta(hours=1)
    line = Line.objects.get(pk=world.line_id)
    lines.end(line=line, actor=administrator, now=gone, today=gone.date())
    left, stayed = client_for(manager), client_for(report)
    for pattern, method in ASKS:
        if "commitment_id" not in str(pattern.pattern):
            status = ask(left, method, address(pattern, world)).status_code
            assert status == 404, f"manager: {method} {pattern.name}: {status}"
        status = ask(stayed, method, address(pattern, world)).status_code
        expected = (200, 302) if pattern.name in KEPT_FOR_THE_REPORT else (403, 404)
        assert status in expected, f"report: {method} {pattern.name}: {status}"
