"""Sharing the time on the page of a line: each sets their own share, and sees whose word is missing."""

from __future__ import annotations

import pytest
from django.urls import reverse

from accounts.models import Person
from oneonone.models import Line
from tests.cast import ClientFor, assert_sees, body_of, queries
from tests.scene import make_topic


def test_each_sets_their_own_share_and_sees_that_both_are_needed(
    client_for: ClientFor, line: Line, manager: Person, report: Person
) -> None:
    page, share = reverse("line", args=[line.pk]), reverse("line-floor", args=[line.pk])
    assert_sees(client_for(report).get(page), "No share is kept: neither of you has set one.")
    answer = client_for(report).post(share, {"percent": "40"}, follow=True)
    assert_sees(answer, "You want at least 40 %. Ines Okafor has set no share, so none is kept yet.")
    assert_sees(
        client_for(manager).get(page),
        "Tomas Lindqvist wants at least 40 %. You have set no share, so none is kept yet.",
    )
    client_for(manager).post(share, {"percent": "30"})
    assert_sees(client_for(manager).get(share), "What you bring has at least 30 % of the minutes discussed")
    line.refresh_from_db()
    assert (line.manager_floor_percent, line.report_floor_percent) == (30, 40)
    client_for(report).post(share, {"percent": ""})
    line.refresh_from_db()
    assert (line.manager_floor_percent, line.report_floor_percent) == (30, None)


@pytest.mark.parametrize("said", ["4", "51", "half"])
def test_a_share_that_cannot_be_is_refused_at_its_field_and_kept(
    said: str, client_for: ClientFor, line: Line, report: Person
) -> None:
    answer = client_for(report).post(reverse("line-floor", args=[line.pk]), {"percent": said})
    assert answer.status_code == 422
    assert "A whole number from 5 to 50 is accepted." in body_of(answer)
    assert f'value="{said}"' in body_of(answer)


def test_the_queries_do_not_grow_with_the_topics(client_for: ClientFor, line: Line, report: Person) -> None:
    client, share, counts = client_for(report), reverse("line-floor", args=[line.pk]), []
    client.get(share)
    for _more in range(2):
        for number in range(3):
            make_topic(line, report, f"Buoy {number}")
        with queries() as made:
            client.get(share)
        counts.append(len(made))
    assert counts[0] == counts[1]
