"""People and lines, for administrators and nobody else."""

from __future__ import annotations

from uuid import uuid4

import pytest
from django.urls import reverse

from accounts.models import Person
from oneonone.models import Line, Meeting
from tests.cast import ClientFor, assert_not_sees, assert_same_bytes, assert_sees, make_person, queries
from tests.scene import Brought, make_line
from tests.web.test_lines import INTERVAL


@pytest.mark.parametrize("who", ["manager", "report", "staff", "superuser", "outsider"])
@pytest.mark.parametrize("name", ["people", "people-line-new"])
def test_to_everybody_else_the_page_does_not_exist(
    who: str, name: str, request: pytest.FixtureRequest, client_for: ClientFor
) -> None:
    client = client_for(request.getfixturevalue(who))
    assert_same_bytes(client.get(reverse(name)), client.get("/nothing/here/"))


def test_an_administrator_sees_who_reports_to_whom_and_nothing_of_what_they_discuss(
    issued_meeting: Meeting, brought: Brought, administrator: Person, client_for: ClientFor
) -> None:
    page = client_for(administrator).get(reverse("people"))
    assert_sees(page, "Ines Okafor")
    assert_sees(page, "Tomas Lindqvist")
    assert_not_sees(page, brought.crane.title)
    assert_not_sees(page, "3 December")
    assert_not_sees(page, str(issued_meeting.pk))


def test_an_administrator_makes_a_line_that_is_confirmed_at_once(
    manager: Person, outsider: Person, administrator: Person, client_for: ClientFor
) -> None:
    said = {**INTERVAL, "client_key": str(uuid4()), "manager": str(manager.pk), "report": str(outsider.pk)}
    client_for(administrator).post(reverse("people-line-new"), said)
    line = Line.objects.get()
    assert (line.manager, line.report, line.start) == (manager, outsider, "joined")
    assert line.tree_confirmed_at is not None


@pytest.mark.parametrize(
    ("who", "said"),
    [("report", "already have an open reporting line"), ("manager", "Two different people")],
)
def test_a_second_line_and_one_person_twice_are_refused(
    who: str,
    said: str,
    line: Line,
    manager: Person,
    report: Person,
    administrator: Person,
    client_for: ClientFor,
) -> None:
    other = {"report": report, "manager": manager}[who]
    form = {**INTERVAL, "client_key": str(uuid4()), "manager": str(manager.pk), "report": str(other.pk)}
    answer = client_for(administrator).post(reverse("people-line-new"), form)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert Line.objects.count() == 1


def test_a_circle_is_refused_and_names_no_third_person(
    line: Line, lead_line: Line, lead: Person, report: Person, administrator: Person, client_for: ClientFor
) -> None:
    form = {**INTERVAL, "client_key": str(uuid4()), "manager": str(report.pk), "report": str(lead.pk)}
    answer = client_for(administrator).post(reverse("people-line-new"), form)
    assert answer.status_code == 422
    fault = str(answer.context["pair"].errors["report"])
    assert "circle" in fault
    assert "Ines" not in fault


def test_a_line_that_a_manager_made_is_confirmed(
    manager: Person, report: Person, administrator: Person, client_for: ClientFor
) -> None:
    line = make_line(manager, report)
    client_for(administrator).post(reverse("people-line-confirm", args=[line.pk]))
    line.refresh_from_db()
    assert line.tree_confirmed_by == administrator


def test_nobody_else_confirms_a_line(
    manager: Person, report: Person, lead: Person, client_for: ClientFor
) -> None:
    line = make_line(manager, report)
    for person in (manager, report, lead):
        answer = client_for(person).post(reverse("people-line-confirm", args=[line.pk]))
        assert answer.status_code == 404
    line.refresh_from_db()
    assert line.tree_confirmed_at is None


def test_twice_the_lines_take_as_many_queries(
    line: Line,
    peer_line: Line,
    other_line: Line,
    lead: Person,
    outsider: Person,
    administrator: Person,
    client_for: ClientFor,
) -> None:
    client = client_for(administrator)
    client.get(reverse("people"))
    with queries() as few:
        client.get(reverse("people"))
    for report in (outsider, make_other(1), make_other(2)):
        make_line(lead, report)
    with queries() as many:
        client.get(reverse("people"))
    assert len(few) == len(many)


def make_other(number: int) -> Person:
    return make_person(f"Spare Hand {number}")
