"""The cadence page: whether meetings happen, dates only, for whoever leads."""

from __future__ import annotations

import datetime as dt
import typing

import pytest
from django.urls import reverse

from accounts.models import Person
from oneonone import clock
from oneonone.cadence import Share, Silence
from oneonone.cadence.standing import Kind
from oneonone.models import Line, Meeting
from oneonone.selectors.cadence import cadence, lines_below, year
from oneonone.services.lines import lines
from tests.cast import ClientFor, assert_not_sees, assert_sees, body_of, queries
from tests.scene import Brought, make_line
from tests.web.gallery.markup import read

CLASSES = (
    lines_below.Row,
    cadence.Sums,
    cadence.Group,
    cadence.Team,
    year.Span,
    year.Mark,
    year.Year,
    Silence,
    Share,
)


@pytest.mark.parametrize("view", CLASSES)
def test_no_class_of_it_has_a_field_for_content(view: type) -> None:
    """Days, numbers, ids, names of people and fixed words; agreements and pauses are dates and numbers."""
    allowed = {"UUID", "date", "int", "bool", "str", "NoneType", "Agreement", "Pause"}
    allowed |= {one.__name__ for one in CLASSES} | set(typing.get_args(Kind))
    allowed |= set(typing.get_args(year.Kind))
    names = {"manager", "report", "unit", "key", "manager_key"}
    hints = typing.get_type_hints(view)
    assert hints
    for name, hint in hints.items():
        kinds = _leaves(hint)
        assert kinds <= allowed, f"{name}: {kinds - allowed}"
        assert "str" not in kinds or name in names


def _leaves(hint: object) -> set[str]:
    inner = [arg for arg in typing.get_args(hint) if arg is not Ellipsis]
    if not inner:
        return {hint if isinstance(hint, str) else getattr(hint, "__name__", str(hint))}
    return set().union(*(_leaves(arg) for arg in inner))


def test_a_manager_sees_the_standing_of_each_report(
    line: Line, peer_line: Line, manager: Person, client_for: ClientFor
) -> None:
    page = client_for(manager).get(reverse("cadence"))
    assert_sees(page, "Tomas Lindqvist")
    assert_sees(page, "Maja Ferreira")
    assert_sees(page, "never met")


def test_a_meeting_held_ends_the_silence_and_a_planned_one_does_not(
    closed_meeting: Meeting, peer_line: Line, manager: Person
) -> None:
    team = cadence.team(manager, now=clock.now())
    rows = {row.report: row for row in team.rows}
    assert rows["Tomas Lindqvist"].silence == 0
    assert rows["Tomas Lindqvist"].last_held == dt.date(2026, 12, 3)
    assert rows["Maja Ferreira"].last_held is None
    assert rows["Maja Ferreira"].silence == (dt.date(2026, 12, 3) - dt.date(2026, 9, 7)).days


def test_nothing_of_a_meeting_is_on_it(
    closed_meeting: Meeting, brought: Brought, lead_line: Line, lead: Person, client_for: ClientFor
) -> None:
    page = client_for(lead).get(reverse("cadence") + "?everyone")
    assert_sees(page, "Tomas Lindqvist")
    for topic in (brought.crane, brought.sheet, brought.licence):
        assert_not_sees(page, topic.title)
    assert_not_sees(page, str(closed_meeting.pk))
    assert_not_sees(page, "The harbour gives slots a month ahead only.")


def test_a_lead_sees_further_down_only_what_is_confirmed(
    lead_line: Line, lead: Person, manager: Person, report: Person, administrator: Person, now: dt.datetime
) -> None:
    unconfirmed = make_line(manager, report)
    assert {row.report for row in cadence.team(lead, now=now, everyone=True).rows} == {"Ines Okafor"}
    lines.confirm(line=unconfirmed, actor=administrator, now=now)
    seen = {row.report for row in cadence.team(lead, now=now, everyone=True).rows}
    assert seen == {"Ines Okafor", "Tomas Lindqvist"}


@pytest.mark.parametrize("who", ["peer", "report", "former_manager", "administrator", "superuser"])
def test_others_see_nobody(
    who: str,
    line: Line,
    former_line: Line,
    request: pytest.FixtureRequest,
    client_for: ClientFor,
) -> None:
    page = client_for(request.getfixturevalue(who)).get(reverse("cadence") + "?everyone")
    assert page.status_code == 200
    for name in ("Ines Okafor", "Leila Castell"):
        assert_not_sees(page, name)


def test_an_ended_line_is_no_longer_on_it(
    line: Line, peer_line: Line, manager: Person, now: dt.datetime, today: dt.date
) -> None:
    lines.end(line=line, actor=manager, now=now, today=today)
    assert [row.report for row in cadence.team(manager, now=now).rows] == ["Maja Ferreira"]


def test_it_is_said_in_a_sentence(
    line: Line, peer_line: Line, manager: Person, client_for: ClientFor
) -> None:
    page = client_for(manager).get(reverse("cadence"))
    said = read(body_of(page)).one("p", **{"class": "cadence-sentence"}).words()
    assert said.startswith("0 of 2 one-on-ones are overdue, 2 have never been held, and ")


def test_twice_the_lines_take_as_many_queries(
    line: Line,
    peer_line: Line,
    manager: Person,
    outsider: Person,
    other_report: Person,
    client_for: ClientFor,
) -> None:
    client = client_for(manager)
    client.get(reverse("cadence"))
    with queries() as few:
        client.get(reverse("cadence"))
    for person in (outsider, other_report):
        make_line(manager, person)
    with queries() as many:
        client.get(reverse("cadence"))
    assert len(few) == len(many)


def test_only_get_is_answered(line: Line, manager: Person, client_for: ClientFor) -> None:
    assert client_for(manager).post(reverse("cadence")).status_code == 405
