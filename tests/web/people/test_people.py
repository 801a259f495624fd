"""People and lines, for administrators and nobody else."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from oneonone.models import Line, Meeting
from tests.cast import ClientFor, assert_not_sees, assert_same_bytes, assert_sees, make_person, queries
from tests.scene import Brought, make_line
from tests.web.lines.test_line import INTERVAL


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


def make(client: Client, **said: object) -> Any:
    form = {**INTERVAL, "client_key": str(uuid4()), **said}
    return client.post(reverse("people-line-new"), form)


def test_the_form_of_a_new_line_lists_nobody(
    manager: Person, outsider: Person, administrator: Person, client_for: ClientFor
) -> None:
    page = client_for(administrator).get(reverse("people-line-new"))
    for person in (manager, outsider):
        assert_not_sees(page, person.email)
        assert_not_sees(page, str(person.pk))


@pytest.mark.parametrize("by", ["name", "email"])
def test_whoever_is_named_whole_is_taken(
    by: str, manager: Person, outsider: Person, administrator: Person, client_for: ClientFor
) -> None:
    said = {"manager_words": getattr(manager, by).upper(), "report_words": getattr(outsider, by)}
    assert make(client_for(administrator), **said).status_code == 302
    line = Line.objects.get()
    assert (line.manager, line.report) == (manager, outsider)


def test_those_who_fit_are_offered_and_one_of_them_is_chosen(
    manager: Person, outsider: Person, administrator: Person, client_for: ClientFor
) -> None:
    """Also where one alone fits: a part of a name is no yes. What was typed is kept."""
    client = client_for(administrator)
    said = {"manager_words": "okaf", "report_words": "bea.moreau", "place": "The pilot house"}
    asked = make(client, **said)
    assert asked.status_code == 422
    body = asked.content.decode()
    assert body.count("Choose who is meant.") == 4  # above the form and at each field
    for words in ("okaf", "bea.moreau", "The pilot house", str(manager.pk), str(outsider.pk)):
        assert f'value="{words}"' in body
    assert make(client, **said, manager=manager.pk, report=outsider.pk).status_code == 302
    assert Line.objects.get().manager == manager


def test_a_choice_that_no_longer_fits_what_is_typed_is_not_taken(
    manager: Person, lead: Person, outsider: Person, administrator: Person, client_for: ClientFor
) -> None:
    answer = make(client_for(administrator), manager_words="Ruth", manager=manager.pk, report=outsider.pk)
    assert answer.status_code == 422
    assert f'value="{lead.pk}"' in answer.content.decode()
    assert not Line.objects.exists()


def test_more_than_can_be_offered_ask_for_more_of_the_name(
    administrator: Person, outsider: Person, client_for: ClientFor
) -> None:
    for number in range(12):
        make_person(f"Ada Brook {number:02}")
    answer = make(client_for(administrator), manager_words="Ada Bro", report=outsider.pk)
    body = answer.content.decode()
    assert body.count("@example.org)</span>") == 11  # ten to choose from, and the report
    assert "More than 10 people fit." in body


@pytest.mark.parametrize(
    ("said", "fault"),
    [
        ({"manager_words": "Nobody Here"}, "Nobody with an account has this name or address."),
        ({"manager_words": "gone"}, "Nobody with an account has this name or address."),
        ({}, "Enter the name or address of somebody who has an account."),
    ],
)
def test_a_name_that_nobody_has_is_refused_at_its_field(
    said: dict[str, str],
    fault: str,
    outsider: Person,
    administrator: Person,
    client_for: ClientFor,
) -> None:
    closed = make_person("Gone Fishing")
    Person.objects.filter(pk=closed.pk).update(is_active=False)
    answer = make(client_for(administrator), **said, report=outsider.pk)
    assert answer.status_code == 422
    assert answer.context["pair"].errors["manager_words"] == [fault]


@pytest.mark.parametrize(
    "said",
    [
        {},
        {"name": "Jon Sedge"},
        {"report_words": "Bea Moreau", "name": "Jon Sedge", "email": "jon.sedge@example.org"},
    ],
)
def test_the_report_is_somebody_here_or_somebody_new_and_not_both(
    said: dict[str, str], manager: Person, outsider: Person, administrator: Person, client_for: ClientFor
) -> None:
    answer = make(client_for(administrator), manager=manager.pk, **said)
    assert answer.status_code == 422
    assert "Enter either somebody who has an account" in answer.content.decode()
    assert not Line.objects.exists()


def test_the_form_of_a_new_line_does_not_grow_with_the_accounts(
    manager: Person, outsider: Person, administrator: Person, client_for: ClientFor
) -> None:
    client = client_for(administrator)

    def size() -> tuple[int, int]:
        with queries() as asked:
            page = make(client, manager_words="example.org", report_words="example.org")
        return len(asked), len(page.content)

    for number in range(20):
        make_person(f"Ada Brook {number:02}")
    size()  # the first request has the session to begin
    few = size()
    for number in range(20, 60):
        make_person(f"Ada Brook {number:02}")
    many = size()
    assert few[0] == many[0]
    assert abs(few[1] - many[1]) < 100
