"""Lists that grow with the years are shown a page at a time."""

from __future__ import annotations

import datetime as dt
import re

from django.urls import reverse

from accounts.models import Person
from oneonone.models import Line, Meeting, Side
from oneonone.services.commitments import commitments
from oneonone.services.lines import lines
from oneonone.services.meetings import held_claims
from oneonone.web.lines.line_views import A_PAGE
from oneonone.web.notices.next_views import COMMITMENTS_ON_A_PAGE
from tests.cast import ClientFor, body_of, make_person, queries
from tests.scene import MADE, make_line

DAY = dt.timedelta(days=1)
FIRST = dt.datetime(2026, 9, 8, 12, 0, tzinfo=dt.UTC)


def met(line: Line, number: int, actor: Person, first: dt.datetime = FIRST) -> None:
    for count in range(number):
        now = first + count * DAY
        held_claims.we_met(
            line=line, day=now.date(), meeting=None, discussed=[], actor=actor, now=now, today=now.date()
        )


def test_the_history_of_a_line_is_read_a_page_at_a_time_the_newest_first(
    line: Line, manager: Person, report: Person, client_for: ClientFor
) -> None:
    met(line, A_PAGE + 2, manager)
    client, path = client_for(report), reverse("line", args=[line.pk])
    first, second = (body_of(client.get(path, {"page": number})) for number in (1, 2))
    assert [page.count("history-row") for page in (first, second)] == [A_PAGE, 2]
    assert "Tuesday 29 September 2026" in first
    assert "Tuesday 8 September 2026" in second
    assert 'href="?page=2"' in first
    assert body_of(client.get(path, {"page": "none"})).count("history-row") == A_PAGE


def test_a_longer_history_takes_no_more_queries_and_no_longer_a_page(
    line: Line, manager: Person, report: Person, client_for: ClientFor
) -> None:
    client, path = client_for(report), reverse("line", args=[line.pk])

    def look() -> tuple[int, int]:
        with queries() as asked:
            page = client.get(path)
        return len(asked), body_of(page).count("history-row")

    look()
    met(line, A_PAGE + 1, manager)
    few = look()
    met(line, A_PAGE, manager, FIRST + (A_PAGE + 1) * DAY)
    assert look() == few
    assert Meeting.objects.filter(line=line, state="closed").count() == 2 * A_PAGE + 1


def test_lines_that_have_ended_are_paged(
    manager: Person, administrator: Person, report: Person, client_for: ClientFor
) -> None:
    """They are the report's to read: here one person who has had many managers."""
    for number in range(A_PAGE + 1):
        line = make_line(make_person(f"Ada Brook {number:02}"), report, actor=administrator)
        lines.end(line=line, actor=administrator, now=MADE, today=MADE.date())
    client = client_for(report)
    first, second = (body_of(client.get(reverse("lines"), {"ended": n})) for n in (1, 2))
    assert 'href="?ended=2#ended"' in first
    assert len(re.findall(r"Ada Brook \d\d", first)) == A_PAGE
    assert len(re.findall(r"Ada Brook \d\d", second)) == 1


def test_what_somebody_took_on_is_paged_on_the_first_page(
    line: Line, report: Person, client_for: ClientFor, now: dt.datetime
) -> None:
    for number in range(COMMITMENTS_ON_A_PAGE + 1):
        commitments.take_on(
            line=line,
            owner_side=Side.REPORT,
            action=f"Paint bollard {number}",
            how_known="",
            date=dt.date(2027, 1, 1) + number * DAY,
            actor=report,
            now=now,
        )
    client = client_for(report)
    first, second = (body_of(client.get(reverse("next"), {"commitments": n})) for n in (1, 2))
    assert 'href="?commitments=2#commitments"' in first
    last = f"Paint bollard {COMMITMENTS_ON_A_PAGE}"
    assert last not in first
    assert last in second
