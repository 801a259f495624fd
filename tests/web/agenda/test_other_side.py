"""What can the other side see: the same agenda as they really get, and nothing of what is theirs alone."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.http import HttpResponseBase
from django.urls import reverse

from accounts.models import Person
from oneonone import clock
from oneonone.models import Line, Meeting, Side
from oneonone.services.agenda import issuing, topics
from oneonone.services.commitments import commitments
from oneonone.services.lines import joining, lines
from oneonone.services.private import margin, preparation
from tests.cast import ClientFor, assert_not_sees, assert_sees, body_of, queries
from tests.scene import Brought, TakenOn, coming_of, invite_report, make_topic
from tests.web.gallery.markup import Node, read

MINE, THEIRS = "A word for my own margin.", "A word for their own margin."
PRIVATE_TABLES = ("marginnote", "preparation", "personkey", "logbookentry", "commitmentplan", "commitmentcue")
# What only the reader's own page has: acts, margins, and what stands around them.
ACTS = {"form", "button", "input"}
OWN_CLASSES = {
    "actions", "rail-margin", "rail-margin-head", "margin-tools", "strip-acts", "topic-more", "topic-acts",
    "kept-note", "agenda-private",
}  # fmt: skip
OWN_SECTIONS = {"add"}


def seen_at(meeting: Meeting) -> str:
    return reverse("meeting-as-they-see-it", args=[meeting.pk])


def shared(response: HttpResponseBase) -> list[str]:
    """The agenda of a page as a list of its tags and words, without acts and margins."""
    assert response.status_code == 200
    found: list[str] = []
    _gather(read(body_of(response)).one("div", id="agenda"), found)
    return found


def _gather(node: Node, found: list[str]) -> None:
    if node.tag == "#text":
        found.extend(node.text.split())
        return
    if _is_own(node):
        return
    if "data-opens" in node.attributes:  # the title leads to what can be done; its words are compared
        for child in node.children:
            _gather(child, found)
        return
    kept = {
        name: value
        for name, value in node.attributes.items()
        if name in ("class", "id", "dir", "href", "datetime", "aria-label")
    }
    if "class" in kept:
        kept["class"] = " ".join(name for name in kept["class"].split() if name != "rail-with-margin")
    start = len(found)
    found.append(f"<{node.tag} {sorted(kept.items())}>")
    for child in node.children:
        _gather(child, found)
    if len(found) == start + 1:
        found.pop()  # only held what was left out


def _is_own(node: Node) -> bool:
    classes = set(node.attributes.get("class", "").split())
    if node.tag in ACTS or OWN_CLASSES & classes or (node.tag == "a" and "button" in classes):
        return True
    return node.tag == "section" and node.attributes.get("aria-labelledby") in OWN_SECTIONS


@pytest.fixture
def busy(meeting: Meeting, brought: Brought, manager: Person, report: Person, now: dt.datetime) -> Meeting:
    """Both have written in their margins; one topic is parked; something was typed for the other."""
    for author, words in ((manager, MINE), (report, THEIRS)):
        for topic, at in ((brought.crane, None), (None, meeting)):
            margin.write(
                topic=topic, meeting=at, words=words, unclear=True, revision=0,
                actor=author, now=now, today=now.date(),
            )  # fmt: skip
    topics.park(topic=brought.sundays, actor=manager, now=now)
    for owner, actor in ((Side.REPORT, manager), (Side.MANAGER, report)):
        commitments.take_on(
            line=meeting.line,
            owner_side=owner,
            action=f"Count the lifejackets of the {owner.value}",
            how_known="",
            date=dt.date(2026, 12, 1),
            actor=actor,
            now=now,
        )
    return meeting


def without_tokens(response: HttpResponseBase) -> str:
    return re.sub(r'name="(csrfmiddlewaretoken|client_key)" value="[\w-]+"', "", body_of(response))


def assert_equal_to_the_real_one(client_for: ClientFor, meeting: Meeting, one: Person, other: Person) -> None:
    real = shared(client_for(other).get(reverse("meeting", args=[meeting.pk])))
    shown = shared(client_for(one).get(seen_at(meeting)))
    assert shown == real
    assert len(shown) > 60


def test_before_issue_it_is_what_the_other_side_really_gets(
    client_for: ClientFor, busy: Meeting, manager: Person, report: Person
) -> None:
    assert_equal_to_the_real_one(client_for, busy, manager, report)
    assert_equal_to_the_real_one(client_for, busy, report, manager)


def test_after_issue_too(
    client_for: ClientFor, busy: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    issuing.issue(meeting=busy, actor=manager, now=now)
    make_topic(busy.line, report, "Rope for the second pontoon", now=now, minutes=20)
    assert_equal_to_the_real_one(client_for, busy, manager, report)
    assert_equal_to_the_real_one(client_for, busy, report, manager)


def test_of_a_closed_meeting_and_the_next_too(
    client_for: ClientFor,
    closed_meeting: Meeting,
    next_meeting: Meeting,
    taken_on: TakenOn,
    manager: Person,
    report: Person,
) -> None:
    for one, other in ((manager, report), (report, manager)):
        assert_equal_to_the_real_one(client_for, closed_meeting, one, other)
        assert_equal_to_the_real_one(client_for, next_meeting, one, other)


def test_nothing_of_either_margin_is_on_it_and_no_act(
    client_for: ClientFor, busy: Meeting, manager: Person
) -> None:
    answer = client_for(manager).get(seen_at(busy))
    for words in (MINE, THEIRS, "Unclear", "note"):
        assert words not in read(body_of(answer)).one("div", id="agenda").words()
    assert_not_sees(answer, MINE)
    assert_not_sees(answer, THEIRS)
    page = read(body_of(answer)).one("div", id="agenda")
    assert [node.tag for tag in ("form", "button", "input", "textarea") for node in page.all(tag)] == []


def test_the_page_is_the_same_whether_or_not_they_have_written_or_read_anything(
    client_for: ClientFor,
    meeting: Meeting,
    brought: Brought,
    manager: Person,
    report: Person,
    now: dt.datetime,
) -> None:
    issuing.issue(meeting=meeting, actor=manager, now=now)
    client = client_for(manager)
    before = client.get(seen_at(meeting))
    today = now.date()
    preparation.mark_read(meeting=meeting, number=1, actor=report, now=now, today=today)
    margin.write(
        topic=brought.crane, words=THEIRS, unclear=True, revision=0, actor=report, now=now, today=today
    )
    after = client.get(seen_at(meeting))
    assert without_tokens(before) == without_tokens(after)
    assert_not_sees(after, "read it")


def test_no_private_row_and_no_key_is_asked_for(
    client_for: ClientFor, busy: Meeting, manager: Person
) -> None:
    client = client_for(manager)
    with queries() as found:
        client.get(seen_at(busy))
    asked = [query["sql"] for query in found.captured_queries]
    assert [sql for sql in asked if any(f"oneonone_{table}" in sql for table in PRIVATE_TABLES)] == []
    with queries() as found:
        client.get(reverse("meeting", args=[busy.pk]))
    own = [query["sql"] for query in found.captured_queries]
    assert any("oneonone_marginnote" in sql for sql in own), "the agenda itself asks, so the check can tell"


def test_somebody_who_has_not_joined_is_shown_what_they_will_see(
    client_for: ClientFor, manager: Person, now: dt.datetime
) -> None:
    made = invite_report(manager, "Jon Sedge", email="jon.sedge@example.org", now=now)
    meeting = coming_of(made.line)
    topic = make_topic(made.line, manager, "Where the keys hang", now=now)
    topics.park(topic=make_topic(made.line, manager, "Spring rota", now=now), actor=manager, now=now)
    commitments.take_on(
        line=made.line,
        owner_side=Side.REPORT,
        action="Learn the tide table",
        how_known="",
        date=dt.date(2026, 11, 30),
        actor=manager,
        now=now,
    )
    margin.write(topic=topic, words=MINE, unclear=False, revision=0, actor=manager, now=now, today=now.date())
    client = client_for(manager)
    answer = client.get(seen_at(meeting))
    assert_sees(answer, "Jon Sedge has not joined yet")
    before = shared(answer)
    assert_not_sees(answer, MINE)
    jon = _joins(made, now=clock.now())
    assert shared(client.get(seen_at(meeting))) == before
    assert shared(client_for(jon).get(reverse("meeting", args=[meeting.pk]))) == before
    assert " ".join(before).count("Learn the tide table") == 1
    assert "Spring rota" in " ".join(before)


def _joins(made: lines.Made, *, now: dt.datetime) -> Person:

    invitation = made.line.invitation
    assert invitation is not None
    return joining.accept_as_new(
        invitation=invitation,
        name="Jon Sedge",
        password="eleven gulls on a wet roof",
        zone=made.line.someone.zone,
        now=now,
    ).person


def test_after_a_line_has_ended_its_report_is_told_that_the_manager_sees_nothing(
    client_for: ClientFor, closed_meeting: Meeting, report: Person, administrator: Person
) -> None:
    line = Line.objects.get(pk=closed_meeting.line_id)
    now = clock.now()
    lines.end(line=line, actor=administrator, now=now, today=now.date())
    answer = client_for(report).get(seen_at(closed_meeting))
    assert_sees(answer, "Nothing of this page.")
    assert 'id="agenda"' not in body_of(answer)


def test_nobody_else_is_shown_it(
    client_for: ClientFor, busy: Meeting, peer: Person, lead: Person, administrator: Person
) -> None:
    for stranger in (peer, lead, administrator):
        assert client_for(stranger).get(seen_at(busy)).status_code == 404


def test_the_link_stands_where_the_doubt_is(
    client_for: ClientFor, busy: Meeting, brought: Brought, manager: Person
) -> None:
    client = client_for(manager)
    note = reverse("margin-write", kwargs={"topic_id": brought.crane.pk})
    for page in (reverse("meeting", args=[busy.pk]), reverse("line", args=[busy.line_id]), note):
        assert f'href="{seen_at(busy)}"' in body_of(client.get(page))
    assert_sees(client.get(reverse("privacy")), "What can the other side see?")


def test_it_costs_the_same_with_twice_the_topics(
    client_for: ClientFor, busy: Meeting, manager: Person, report: Person
) -> None:
    client = client_for(manager)
    client.get(seen_at(busy))
    with queries() as few:
        client.get(seen_at(busy))
    for number in range(5):
        make_topic(busy.line, report, f"Berth {number}", minutes=1)
    with queries() as many:
        client.get(seen_at(busy))
    assert len(many) == len(few)


def test_a_meeting_under_way_is_shown_as_well(
    client_for: ClientFor, under_way_meeting: Meeting, manager: Person, report: Person
) -> None:
    assert_equal_to_the_real_one(client_for, under_way_meeting, manager, report)
