"""Topics on the page: added in a line, said in full, weighed, moved by hand, parked and withdrawn."""

from __future__ import annotations

import datetime as dt
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from oneonone.models import Importance, Line, Meeting, MustDiscuss, Proposal, Topic
from tests.cast import ClientFor, assert_not_sees, assert_sees, body_of
from tests.scene import Brought, make_topic, placement_of
from tests.web.gallery.markup import read
from tests.web.taking import do, take


def add(client: Client, line: Line, **fields: object) -> object:
    data = {"title": "Fuel slips that never arrive", "kind": "obstacle", "client_key": str(uuid4()), **fields}
    return client.post(reverse("topic-add", args=[line.pk]), data)


# --- added


def test_a_line_and_a_kind_are_enough(
    client_for: ClientFor, line: Line, meeting: Meeting, report: Person
) -> None:
    client = client_for(report)
    answer = add(client, line)
    topic = Topic.objects.get()
    # The usual for an obstacle: 10 minutes, of which half are the least useful (design: the cycle).
    assert (topic.kind, topic.minutes_wanted, topic.minutes_least) == ("obstacle", 10, 5)
    assert topic.outcome_wanted == "inform"
    assert topic.raiser == report
    assert answer.headers["Location"] == f"{reverse('meeting', args=[meeting.pk])}#topic-{topic.pk}"  # type: ignore[attr-defined]


def test_what_is_added_is_told_where_it_would_be_or_that_it_has_no_place(
    client_for: ClientFor, line: Line, meeting: Meeting, report: Person
) -> None:
    client, page = client_for(report), reverse("meeting", args=[meeting.pk])
    add(client, line)
    begins = meeting.starts_at.astimezone(ZoneInfo(meeting.zone)) + dt.timedelta(minutes=4)
    stands = f"As things stand it begins at {begins:%H:%M} and has 10 minutes."
    assert_sees(client.get(page), f"“Fuel slips that never arrive” is on the list. {stands}")
    add(
        client,
        line,
        title="A roof for the gate",
        minutes_wanted="40",
        minutes_least="40",
        importance="if_time",
    )
    assert_sees(client.get(page), "“A roof for the gate” is on the list. As things stand it has no place;")


def test_the_other_side_adds_in_the_same_way_and_both_see_it(
    client_for: ClientFor, line: Line, meeting: Meeting, manager: Person, report: Person
) -> None:
    add(client_for(manager), line, title="Dry dock in spring")
    assert_sees(client_for(report).get(reverse("meeting", args=[meeting.pk])), "Dry dock in spring")


def test_everything_can_be_said_at_once(
    client_for: ClientFor, line: Line, brought: Brought, report: Person
) -> None:
    add(
        client_for(report),
        line,
        detail="Three since October.",
        outcome_wanted="solve",
        minutes_wanted="12",
        minutes_least="8",
        importance="first",
        must="on",
        after=[str(brought.crane.pk)],
        every_nth="2",
        is_sensitive="on",
    )
    topic = Topic.objects.get(title="Fuel slips that never arrive")
    assert (topic.detail, topic.outcome_wanted, topic.minutes_wanted, topic.minutes_least) == (
        "Three since October.",
        "solve",
        12,
        8,
    )
    assert (topic.every_nth, topic.is_sensitive) == (2, True)
    assert list(topic.after.all()) == [brought.crane]
    assert Importance.objects.get(topic=topic, side="report").level == "first"
    assert MustDiscuss.objects.get(side="report").placement.topic == topic


def test_the_same_form_sent_twice_adds_one_topic(client_for: ClientFor, line: Line, report: Person) -> None:
    client, key = client_for(report), str(uuid4())
    for _time in range(2):
        assert add(client, line, client_key=key).status_code == 302  # type: ignore[attr-defined]
    assert Topic.objects.count() == 1


@pytest.mark.parametrize(
    ("field", "value", "accepted"),
    [
        ("title", "", "Enter something here."),
        ("title", "t" * 201, "At most 200 characters"),
        ("kind", "gossip", "is not offered. Choose"),
        ("minutes_wanted", "0", "From 1 to 240 minutes."),
        ("minutes_wanted", "42", "At most 41 minutes: the one-on-one has no more for topics."),
        ("minutes_wanted", "ten", "Enter a whole number."),
        ("minutes_least", "11", "From 1 minute to the 10 wanted."),
        ("every_nth", "27", "Every one-on-one up to every 26th."),
        ("importance", "highest", "is not offered. Choose"),
    ],
)
def test_what_cannot_be_taken_is_named_at_its_field_and_kept(
    field: str,
    value: str,
    accepted: str,
    client_for: ClientFor,
    line: Line,
    report: Person,
) -> None:
    answer = add(client_for(report), line, detail="Three since October.", **{field: value})
    assert answer.status_code == 422  # type: ignore[attr-defined]
    page = body_of(answer)  # type: ignore[arg-type]
    assert accepted in page
    assert "Three since October." in page
    assert value in page
    assert not Topic.objects.exists()


def test_after_issue_it_takes_free_minutes_or_waits_for_a_yes(
    client_for: ClientFor, issued_meeting: Meeting, line: Line, report: Person
) -> None:
    client, page = client_for(report), reverse("meeting", args=[issued_meeting.pk])
    add(client, line, title="A bell for the ticket desk", minutes_wanted="12")
    assert Proposal.objects.filter(placement__topic__title="A bell for the ticket desk").count() == 1
    assert_sees(
        client.get(page),
        "You asked for a place for “A bell for the ticket desk” (12 minutes). Ines has not answered yet.",
    )


# --- edited


def edit_data(topic: Topic, **fields: object) -> dict[str, object]:
    return {
        "title": topic.title,
        "kind": topic.kind,
        "outcome_wanted": topic.outcome_wanted,
        "minutes_wanted": topic.minutes_wanted,
        "minutes_least": topic.minutes_least,
        "detail": topic.detail,
        "version": topic.version,
        **fields,
    }


def test_its_raiser_changes_words_and_minutes(
    client_for: ClientFor, brought: Brought, manager: Person
) -> None:
    client, edit = client_for(manager), reverse("topic-edit", args=[brought.crane.pk])
    assert 'value="12"' in body_of(client.get(edit))
    take(client, edit, edit_data(brought.crane, title="Crane slot in January", minutes_wanted=9))
    brought.crane.refresh_from_db()
    assert (brought.crane.title, brought.crane.minutes_wanted) == ("Crane slot in January", 9)
    assert placement_of(brought.crane).minutes_wanted == 9


def test_an_edit_of_an_older_version_shows_both_texts_and_overwrites_nothing(
    client_for: ClientFor, brought: Brought, manager: Person, now: dt.datetime
) -> None:
    client, edit = client_for(manager), reverse("topic-edit", args=[brought.crane.pk])
    read = edit_data(brought.crane, title="Typed in the first window")
    client.post(edit, edit_data(brought.crane, title="Saved in the second window"))
    answer = client.post(edit, read)
    assert answer.status_code == 412
    page = body_of(answer)
    assert "Typed in the first window" in page
    assert "Saved in the second window" in page
    brought.crane.refresh_from_db()
    assert brought.crane.title == "Saved in the second window"
    assert f'name="version" value="{brought.crane.version}"' in page
    client.post(edit, {**read, "version": brought.crane.version})
    brought.crane.refresh_from_db()
    assert brought.crane.title == "Typed in the first window"


def test_a_circle_of_topics_is_refused_at_its_field(
    client_for: ClientFor, brought: Brought, manager: Person
) -> None:
    client = client_for(manager)
    after_sundays = edit_data(brought.crane, after=[str(brought.sundays.pk)])
    # Needed by the crane, which is first, the Sundays come before it.
    take(client, reverse("topic-edit", args=[brought.crane.pk]), after_sundays)
    back = edit_data(brought.sundays, after=[str(brought.crane.pk)], title="Who covers, then")
    answer = client.post(reverse("topic-edit", args=[brought.sundays.pk]), back)
    assert answer.status_code == 422
    assert "That would make a circle." in body_of(answer)
    assert "Who covers, then" in body_of(answer)


# --- weighed


def test_each_side_weighs_any_topic_for_itself(
    client_for: ClientFor, brought: Brought, manager: Person, report: Person
) -> None:
    importance = reverse("topic-importance", args=[brought.sheet.pk])
    do(client_for(manager), importance, {"importance": "first"})
    do(client_for(report), importance, {"importance": "if_time"})
    said = dict(Importance.objects.filter(topic=brought.sheet).values_list("side", "level"))
    assert said == {"manager": "first", "report": "if_time"}
    do(client_for(report), importance, {"importance": "in_turn"})
    client_for(report).post(importance, {"importance": "most of all"})
    said = dict(Importance.objects.filter(topic=brought.sheet).values_list("side", "level"))
    assert said == {"manager": "first", "report": "in_turn"}


def test_a_third_first_is_refused_at_its_field_and_by_a_message_naming_the_two(
    client_for: ClientFor, brought: Brought, line: Line, report: Person
) -> None:
    client = client_for(report)
    for topic in (brought.sheet, brought.deckhands):
        do(client, reverse("topic-importance", args=[topic.pk]), {"importance": "first"})
    two = f"Already first to you: “{brought.sheet.title}” and “{brought.deckhands.title}”."
    other = f"Already first to you: “{brought.deckhands.title}” and “{brought.sheet.title}”."
    said = client.post(
        reverse("topic-importance", args=[brought.licence.pk]), {"importance": "first"}, follow=True
    )
    assert two in body_of(said) or other in body_of(said)
    sent = {"title": "Spare radios", "kind": "update", "importance": "first", "client_key": uuid4()}
    refused = client.post(reverse("topic-add", args=[line.pk]), sent)
    assert refused.status_code == 422
    assert "Each of you can call two topics of one agenda first." in body_of(refused)
    assert "Spare radios" in body_of(refused)


def test_nothing_is_chosen_for_a_side_that_has_said_nothing(
    client_for: ClientFor, brought: Brought, line: Line, manager: Person
) -> None:
    new = read(body_of(client_for(manager).get(reverse("topic-add", args=[line.pk]))))
    radios = [one for one in new.all("input") if one.attributes.get("name") == "importance"]
    assert len(radios) == 3
    assert not any("checked" in one.attributes for one in radios)
    client_for(manager).post(
        reverse("topic-add", args=[line.pk]), {"title": "Buoys", "kind": "update", "client_key": uuid4()}
    )
    assert not Importance.objects.filter(topic__title="Buoys").exists()


def test_one_topic_a_side_must_be_discussed_and_the_mark_comes_off(
    client_for: ClientFor, brought: Brought, report: Person
) -> None:
    client = client_for(report)
    for topic in (brought.sheet, brought.deckhands):
        do(client, reverse("placement-must", args=[placement_of(topic).pk]), {"must": "1"})
    assert MustDiscuss.objects.get(side="report").placement.topic == brought.deckhands
    do(client, reverse("placement-must", args=[placement_of(brought.deckhands).pk]), {"must": "0"})
    assert not MustDiscuss.objects.exists()


# --- parked and withdrawn


def test_a_parked_topic_asks_for_no_time_until_it_is_asked_again(
    client_for: ClientFor, meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    client, page = client_for(manager), reverse("meeting", args=[meeting.pk])
    answer = client.post(reverse("topic-park", args=[brought.sheet.pk]), {"next": page})
    assert answer.headers["Location"] == f"{page}#topic-{brought.sheet.pk}"
    shown = body_of(client_for(report).get(page))
    assert "One sheet for the shift handover" in shown.split('id="parked"')[1]
    answer = client.post(reverse("topic-unpark", args=[brought.sheet.pk]), {"next": page})
    assert answer.headers["Location"] == f"{page}#topic-{brought.sheet.pk}"
    assert "One sheet for the shift handover" not in body_of(client.get(page)).split('id="parked"')[1]


def test_withdrawing_says_first_what_it_means_and_only_then_does_it(
    client_for: ClientFor, meeting: Meeting, brought: Brought, report: Person
) -> None:
    client, withdraw = client_for(report), reverse("topic-withdraw", args=[brought.sheet.pk])
    assert_sees(client.get(withdraw), "Withdraw “One sheet for the shift handover”?")
    brought.sheet.refresh_from_db()
    assert brought.sheet.state == Topic.State.OPEN
    client.post(withdraw)
    brought.sheet.refresh_from_db()
    assert brought.sheet.state == Topic.State.WITHDRAWN


def test_the_other_sides_must_discuss_cannot_be_parked_alone(
    client_for: ClientFor, meeting: Meeting, line: Line, manager: Person, report: Person
) -> None:
    must = make_topic(line, report, "The holiday roster", must=True)
    answer = client_for(manager).post(reverse("topic-park", args=[must.pk]), follow=True)
    assert_sees(answer, "A topic that the other side has marked as must-discuss would lose its place.")
    must.refresh_from_db()
    assert must.state == Topic.State.OPEN


def test_an_act_leads_back_to_a_page_of_ours_and_never_elsewhere(
    client_for: ClientFor, meeting: Meeting, brought: Brought, report: Person
) -> None:
    client, park = client_for(report), reverse("topic-park", args=[brought.sheet.pk])
    ours = f"{reverse('meeting', args=[meeting.pk])}#topic-{brought.sheet.pk}"
    for elsewhere in (
        "https://elsewhere.example/",
        "//elsewhere.example/",
        "/\\elsewhere.example",
        "javascript:1",
    ):
        answer = client.post(park, {"next": elsewhere})
        assert answer.headers["Location"] == ours, elsewhere


@pytest.mark.parametrize("state", ["finished", "withdrawn", "parked"])
def test_only_open_topics_are_offered_to_come_after(
    state: str, line: Line, brought: Brought, report: Person, client_for: ClientFor
) -> None:
    """By the form of a new topic and by that of one that is there, and refused when they are sent."""
    Topic.objects.filter(pk=brought.crane.pk).update(state=state)
    client = client_for(report)
    for page in (
        client.get(reverse("topic-add", args=[line.pk])),
        client.get(reverse("topic-edit", args=[brought.licence.pk])),
    ):
        assert_sees(page, str(brought.sundays.pk))
        assert_not_sees(page, str(brought.crane.pk))
