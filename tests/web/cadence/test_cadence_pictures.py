"""The picture of a year: drawn, said in words, and put on the page; the filter, the pages, the table."""

from __future__ import annotations

import csv
import datetime as dt
import re

import pytest
from django.urls import reverse

from accounts.models import Person
from oneonone.cadence import Share, Silence
from oneonone.models import Line, Meeting
from oneonone.selectors.cadence.year import Mark, Span, Year
from oneonone.services.lines import lines
from oneonone.web.cadence import cadence_table, year_drawing
from oneonone.web.cadence.wording import year_wording
from tests.bench.grow import grow
from tests.cast import ClientFor, assert_not_sees, assert_sees, body_of, make_person
from tests.scene import make_line
from tests.web.gallery.markup import read

DAY = dt.date

YEAR = Year(
    first=DAY(2025, 11, 1),
    last=DAY(2027, 1, 31),
    today=DAY(2026, 11, 25),
    began=DAY(2026, 1, 5),
    marks=(
        Mark(DAY(2026, 2, 10), "held"),
        Mark(DAY(2026, 3, 12), "held", (DAY(2026, 3, 10),)),
        Mark(DAY(2026, 4, 10), "called off"),
        Mark(DAY(2026, 5, 10), "not held"),
        Mark(DAY(2026, 11, 10), "not said"),
        Mark(DAY(2026, 12, 3), "confirmed"),
        Mark(DAY(2026, 12, 31), "by interval"),
    ),
    paused=(Span(DAY(2026, 7, 1), DAY(2026, 7, 31)),),
    past=(Span(DAY(2026, 9, 2), DAY(2026, 11, 25)),),
    longest=Silence(DAY(2026, 3, 12), DAY(2026, 11, 25), 227),
    share=Share(1, 2),
)


def test_a_month_is_as_wide_as_any_other() -> None:
    firsts = [year_drawing.left(DAY(2025 + (10 + n) // 12, (10 + n) % 12 + 1, 1), YEAR) for n in range(15)]
    assert firsts == [n * year_drawing.MONTH for n in range(15)]
    assert year_drawing.left(DAY(2027, 2, 1), YEAR) == year_drawing.WIDTH


def test_no_mark_is_cut_by_the_edge_of_its_strip() -> None:
    day = YEAR.first
    while day <= YEAR.last:
        x = year_drawing.at(day, YEAR)
        within = x % year_drawing.STRIP
        assert year_drawing.REACH <= within <= year_drawing.STRIP - year_drawing.REACH, day
        assert abs(x - year_drawing.left(day, YEAR)) <= year_drawing.REACH + 1
        day += dt.timedelta(days=1)


def test_each_kind_has_a_shape_of_its_own() -> None:
    drawing = year_drawing.of_year(YEAR)
    assert drawing.held.count("h0") == 2
    shapes = [drawing.confirmed, drawing.called_off, drawing.not_held, drawing.not_said, drawing.moved]
    assert all(shapes)
    assert len(set(shapes)) == len(shapes)
    start, end = re.fullmatch(r"M(\d+) 6H(\d+)V18H\d+z", drawing.past).groups()  # type: ignore[union-attr]
    assert int(start) == year_drawing.left(DAY(2026, 9, 2), YEAR)
    assert int(end) == year_drawing.left(DAY(2026, 11, 26), YEAR)
    assert drawing.base.startswith(f"M{year_drawing.left(DAY(2026, 1, 5), YEAR)} ")


def test_the_words_name_every_day_that_is_drawn() -> None:
    said = {fact.label: fact.days for fact in year_wording.facts(YEAR)}
    assert said == {
        "Held": ("10 Feb 2026", "12 Mar 2026"),
        "Planned": ("3 Dec 2026",),
        "Expected": ("31 Dec 2026",),
        "Not known whether held": ("10 Nov 2026",),
        "Called off": ("10 Apr 2026",),
        "Not held": ("10 May 2026",),
        "Moved": ("from 10 Mar 2026 to 12 Mar 2026",),
        "Paused": ("1 Jul 2026 to 31 Jul 2026",),
        "Overdue": ("2 Sep 2026 to 25 Nov 2026",),
        "Line began": ("5 Jan 2026",),
    }
    assert year_wording.sums(YEAR) == (
        "the longest time without one was 227 days, from 12 Mar 2026 to 25 Nov 2026",
        "1 of 2 were held within the interval agreed then",
    )
    assert year_wording.label(YEAR) == (
        "November 2025 to January 2027: 2 held, 1 called off, 85 days overdue,"
        " paused 1 Jul 2026 to 31 Jul 2026"
    )


def test_the_picture_is_on_the_page_without_anything_inline(
    closed_meeting: Meeting, manager: Person, client_for: ClientFor
) -> None:
    answer = client_for(manager).get(reverse("cadence"))
    assert_sees(answer, "December 2025 to February 2027: 1 held")
    assert_sees(answer, "3 Dec 2026")
    body = body_of(answer)
    assert "<style" not in body
    assert " style=" not in body
    page = read(body)
    whole = page.one("svg", role="img")
    assert whole.one("path", **{"class": "year-dot"})


@pytest.fixture
def deep(lead: Person, now: dt.datetime) -> Person:
    """Ruth with 130 lines below her, ten for each manager."""
    grow(lead, 130, now=now)
    return lead


def test_everyone_below_comes_by_manager_with_sums_and_pages(deep: Person, client_for: ClientFor) -> None:
    client = client_for(deep)
    first = read(body_of(client.get(reverse("cadence"), {"everyone": ""})))
    groups = first.all("details", **{"class": "cadence-group"})
    assert len(groups) == 10
    assert all("10 lines" in group.one("summary").words() for group in groups)
    second = read(body_of(client.get(reverse("cadence"), {"everyone": "", "page": "2"})))
    assert len(second.all("details", **{"class": "cadence-group"})) == 3


def test_by_attention_the_manager_is_a_column(deep: Person, client_for: ClientFor) -> None:
    page = client_for(deep).get(reverse("cadence"), {"everyone": "", "order": "attention"})
    assert_sees(page, '<th scope="col">Manager</th>')
    assert body_of(page).count('role="img"') == 100


def test_a_filter_is_kept_in_the_form_and_in_the_table(
    line: Line, peer_line: Line, manager: Person, client_for: ClientFor
) -> None:
    client = client_for(manager)
    page = client.get(reverse("cadence"), {"name": "maja"})
    assert_sees(page, "Maja Ferreira")
    assert_not_sees(page, "Tomas Lindqvist")
    assert_sees(page, 'value="maja"')
    assert_sees(page, "cadence.csv?name=maja")
    assert_sees(client.get(reverse("cadence"), {"name": "nobody"}), "Nobody found")


def test_a_standing_that_does_not_exist_is_refused_by_name(
    line: Line, manager: Person, client_for: ClientFor
) -> None:
    page = client_for(manager).get(reverse("cadence"), {"standing": "late"})
    assert page.status_code == 422
    assert "late" in body_of(page)


def test_the_table_has_dates_only(closed_meeting: Meeting, manager: Person, client_for: ClientFor) -> None:
    answer = client_for(manager).get(reverse("cadence-csv"))
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert answer["Content-Disposition"] == 'attachment; filename="cadence-2026-12-03.csv"'
    head, row = csv.reader(body_of(answer).removeprefix(cadence_table.MARK).splitlines())
    assert head[:2] == ["Manager", "Report"]
    assert row == [
        "Ines Okafor",
        "Tomas Lindqvist",
        "13",
        "weeks",
        "2026-12-03",
        "0",
        "within",
        "91",
        "2027-03-04",
        "2027-03-04",
        "no",
    ]


@pytest.mark.parametrize(
    "name", ["=1+1", "+44", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "＝1", "＋1", "－1", "＠1", "  =1"]
)
def test_no_name_begins_a_formula(name: str) -> None:
    """OWASP, CSV injection: the characters that a spreadsheet takes for the beginning of a formula."""
    assert cadence_table.plain(name) == f"'{name}"
    assert cadence_table.plain("Ines = Okafor") == "Ines = Okafor"


@pytest.mark.parametrize("who", ["peer", "report", "outsider", "administrator", "superuser"])
def test_others_get_an_empty_table(
    who: str, line: Line, request: pytest.FixtureRequest, client_for: ClientFor
) -> None:
    answer = client_for(request.getfixturevalue(who)).get(reverse("cadence-csv"), {"everyone": ""})
    assert answer.status_code == 200
    assert_not_sees(answer, "Okafor")
    assert len(body_of(answer).splitlines()) == 1


def test_what_runs_out_is_named_with_what_stands_against_it(
    line: Line, manager: Person, client_for: ClientFor
) -> None:
    """Thirteen weeks from 7 September end on 7 December; 3 December is a date by interval only."""
    page = read(body_of(client_for(manager).get(reverse("cadence"))))
    said = page.one("section", **{"aria-labelledby": "soon"}).words()
    assert "Monday 7 December" in said
    assert "Tomas Lindqvist" in said
    assert "expected, not confirmed" in said


def test_a_manager_reads_what_the_intervals_cost(
    line: Line, peer_line: Line, manager: Person, client_for: ClientFor
) -> None:
    """Two times fifty minutes every thirteen weeks are 7.7 minutes a week."""
    page = client_for(manager).get(reverse("cadence"))
    assert_sees(page, "Your one-on-ones with your 2 reports take 8 min a week")


def test_a_way_down_is_offered_where_there_is_one(
    lead_line: Line,
    lead: Person,
    manager: Person,
    administrator: Person,
    now: dt.datetime,
    client_for: ClientFor,
) -> None:
    client = client_for(lead)
    assert_not_sees(client.get(reverse("cadence")), "?everyone")
    lines.confirm(line=make_line(manager, make_person("Ada Brook")), actor=administrator, now=now)
    assert_sees(client.get(reverse("cadence")), "?everyone")
