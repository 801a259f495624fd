"""What intervals cost their manager, on the forms that make one."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction

import pytest
from django.urls import reverse

from accounts.models import Person
from oneonone.models import Interval, Line, Proposal
from oneonone.selectors.cadence import load
from oneonone.web.cadence.wording import load_wording
from tests.cast import ClientFor, assert_not_sees, assert_sees, body_of, queries

WEEKLY = {
    "every": "1",
    "unit": "weeks",
    "first_day": "2026-12-02",
    "month_day": "weekday",
    "time": "10:00",
    "minutes": "45",
    "zone": "Europe/London",
}
PERSON = {"name": "Ada Brook", "email": "ada@example.org", "side": "report"}
KEY = {"client_key": "0f5e9c2e-6c1f-4c8e-9a38-0d4b4f1f3c11"}


def test_the_load_is_the_sum_over_the_lines_one_manages(
    line: Line, peer_line: Line, lead_line: Line, manager: Person, now: dt.datetime
) -> None:
    """50 minutes every 13 weeks, twice; the line on which Ines reports to Ruth costs Ruth."""
    assert load.of(manager, now=now) == load.Load(2, Fraction(100, 13))
    assert load.of(manager, now=now, without=line) == load.Load(1, Fraction(50, 13))


def test_twice_the_lines_take_one_query(
    line: Line, peer_line: Line, manager: Person, now: dt.datetime
) -> None:
    with queries() as made:
        load.of(manager, now=now)
    assert len(made) == 1


@pytest.mark.parametrize(
    ("minutes", "said"),
    [
        (Fraction(0), "0 min"),
        (Fraction(1, 3), "less than a minute"),
        (Fraction(119, 2), "1 h 0 min"),
        (Fraction(160), "2 h 40 min"),
    ],
)
def test_time_is_said_in_hours_and_minutes(minutes: Fraction, said: str) -> None:
    assert load_wording.span(minutes) == said


def test_a_new_line_says_what_it_would_cost_and_keeps_nothing(
    line: Line, manager: Person, client_for: ClientFor
) -> None:
    client = client_for(manager)
    assert_sees(client.get(reverse("line-new")), "Your one-on-ones with your report take 4 min a week")
    page = client.post(reverse("line-new"), {**WEEKLY, **PERSON, **KEY, "preview": "1"})
    assert_sees(page, "This one would take 45 min a week")
    assert_sees(page, "together with your other one-on-ones 49 min")
    assert_sees(page, 'value="ada@example.org"')
    assert Line.objects.count() == 1


def test_another_interval_does_not_count_its_own_line_twice(
    line: Line, peer_line: Line, manager: Person, client_for: ClientFor
) -> None:
    where = reverse("line-interval", args=[line.pk])
    page = client_for(manager).post(where, {**WEEKLY, "preview": "1"})
    assert_sees(page, "This one would take 45 min a week")
    assert_sees(page, "together with your other one-on-ones 49 min")
    assert not Proposal.objects.exists()
    assert Interval.objects.filter(line=line).count() == 1


def test_a_report_is_not_shown_the_managers_load(line: Line, report: Person, client_for: ClientFor) -> None:
    page = client_for(report).get(reverse("line-interval", args=[line.pk]))
    assert_not_sees(page, "of meetings a week")


def test_a_refused_interval_is_refused_when_only_asked_about(
    line: Line, manager: Person, client_for: ClientFor
) -> None:
    page = client_for(manager).post(
        reverse("line-new"), {**WEEKLY, **PERSON, **KEY, "minutes": "5", "preview": "1"}
    )
    assert page.status_code == 422
    assert "would cost you" not in body_of(page)
