"""All commitments in one place; what follows from one that is done, and from one that is not."""

from __future__ import annotations

import datetime as dt
from uuid import uuid4

import pytest
from django.urls import reverse

from accounts.models import Person
from oneonone.models import Commitment, CommitmentPlan, Line, LogbookEntry, Meeting, Topic
from oneonone.selectors.commitments import plans as plan_selector
from oneonone.services.commitments import commitments
from tests.cast import ClientFor, assert_not_sees, assert_sees, body_of, queries

PAGE = "commitments"


def taken_on(line: Line, person: Person, now: dt.datetime, action: str = "Send the roster") -> Commitment:
    return commitments.take_on(
        line=line,
        owner_side=line.side_for(person),
        action=action,
        how_known="",
        date=dt.date(2026, 12, 1),
        actor=person,
        now=now,
    )


def plan_data(commitment: Commitment, **more: str) -> dict[str, str]:
    data = {"reason": "time", "revision": "0", "version": str(commitment.version), "next_step": "Ask Maja"}
    return data | more


def test_both_sides_see_both_with_equal_weight(
    client_for: ClientFor, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    taken_on(line, manager, now, "Order the printer")
    taken_on(line, report, now)
    for person in (manager, report):
        shown = client_for(person).get(reverse(PAGE))
        assert_sees(shown, "Order the printer")
        assert_sees(shown, "Send the roster")


def test_not_done_keeps_why_sealed_and_shares_the_date_alone(
    client_for: ClientFor, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    made = taken_on(line, report, now)
    page = reverse("commitment-not-done", args=[made.pk])
    answer = client_for(report).post(page, plan_data(made, date="2026-12-15", text="Two boats broke down"))
    assert answer.status_code == 302
    made.refresh_from_db()
    assert (made.current_date, made.original_date) == (dt.date(2026, 12, 15), dt.date(2026, 12, 1))
    revision = made.revisions.get()
    assert (revision.reason, revision.basis) == ("", "")
    plan = plan_selector.plan_for(report, made.pk)
    assert (plan.reason, plan.next_step, plan.texts["text"]) == ("time", "Ask Maja", "Two boats broke down")
    assert b"boats" not in bytes(CommitmentPlan.objects.of(report).get().blob)
    assert plan_selector.plan_for(manager, made.pk) == plan_selector.NOTHING
    assert_not_sees(client_for(manager).get(reverse(PAGE)), "Ask Maja")


def test_a_personal_reason_takes_no_words(
    client_for: ClientFor, line: Line, report: Person, now: dt.datetime
) -> None:
    made = taken_on(line, report, now)
    page = reverse("commitment-not-done", args=[made.pk])
    answer = client_for(report).post(page, plan_data(made, reason="personal", text="My knee"))
    assert answer.status_code == 422
    assert "My knee" in body_of(answer)
    assert not CommitmentPlan.objects.of(report).exists()
    assert client_for(report).post(page, plan_data(made, reason="personal")).status_code == 302


def test_a_date_that_is_refused_keeps_no_half_of_it(
    client_for: ClientFor, line: Line, report: Person, now: dt.datetime
) -> None:
    made = taken_on(line, report, now)
    page = reverse("commitment-not-done", args=[made.pk])
    answer = client_for(report).post(page, plan_data(made, date="2026-11-01"))
    assert answer.status_code == 422
    assert not CommitmentPlan.objects.of(report).exists()


def test_waiting_for_the_other_side_offers_to_tell_them_the_exact_words(
    client_for: ClientFor, line: Line, meeting: Meeting, report: Person, now: dt.datetime
) -> None:
    made, client = taken_on(line, report, now), client_for(report)
    page = reverse("commitment-not-done", args=[made.pk])
    answer = client.post(page, plan_data(made, reason="other_side"))
    assert answer["Location"] == reverse("commitment-tell", args=[made.pk])
    assert_sees(client.get(answer["Location"]), "I am waiting for you: Send the roster")
    assert not Topic.objects.exists()
    data = {"title": "I wait for the roster template", "client_key": str(uuid4())}
    client.post(answer["Location"], data)
    assert Topic.objects.get().title == "I wait for the roster template"


def test_a_done_one_offers_itself_once_for_the_logbook_and_as_a_topic(
    client_for: ClientFor, line: Line, meeting: Meeting, report: Person, now: dt.datetime
) -> None:
    made, client = taken_on(line, report, now), client_for(report)
    assert client.post(reverse("commitment-log", args=[made.pk])).status_code == 404
    client.post(reverse("commitment-done", args=[made.pk]))
    assert_sees(client.get(reverse(PAGE)), "Log it as an achievement")
    for _time in range(2):
        client.post(reverse("commitment-log", args=[made.pk]))
        client.post(reverse("commitment-ask-feedback", args=[made.pk]))
    assert LogbookEntry.objects.of(report).count() == 1
    topic = Topic.objects.get()
    assert (topic.kind, topic.title) == ("feedback", "Feedback, please: Send the roster")


def test_planned_and_actual_is_told_to_the_owner_alone(
    client_for: ClientFor, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    made = taken_on(line, report, now)
    commitments.done(commitment=made, actor=report, now=now + dt.timedelta(days=16))
    assert_sees(client_for(report).get(reverse(PAGE)), "10 days later")
    assert_not_sees(client_for(manager).get(reverse(PAGE)), "later than first planned")


def test_the_file_is_safe_for_spreadsheets(
    client_for: ClientFor, line: Line, report: Person, now: dt.datetime
) -> None:
    taken_on(line, report, now, '=HYPERLINK("x")')
    answer = client_for(report).get(reverse("commitments-export"))
    assert "'=HYPERLINK" in body_of(answer)
    assert answer["Content-Disposition"] == 'attachment; filename="export.csv"'


@pytest.mark.parametrize("name", ["commitment-not-done", "commitment-tell"])
def test_the_other_side_may_not_answer_for_it(
    client_for: ClientFor, line: Line, manager: Person, report: Person, now: dt.datetime, name: str
) -> None:
    made = taken_on(line, report, now)
    assert client_for(manager).get(reverse(name, args=[made.pk])).status_code == 403


def test_the_page_costs_the_same_for_many(
    client_for: ClientFor, line: Line, report: Person, now: dt.datetime
) -> None:
    client = client_for(report)

    def cost() -> int:
        with queries() as made_queries:
            client.get(reverse(PAGE))
        return len(made_queries)

    for number in range(2):
        taken_on(line, report, now, f"Action {number}")
    cost()
    few = cost()
    for number in range(2, 20):
        taken_on(line, report, now, f"Action {number}")
    assert cost() == few
