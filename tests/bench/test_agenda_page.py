"""What the agenda page costs, in bare signed-in pages.

A bare signed-in page is the base template with a heading and no rows, through the same client, middleware
and session. The figure is the ratio of the medians of processor time, taken in alternation. Run with -s to
see the figures.
"""

from __future__ import annotations

import datetime as dt
import gc
import gzip
import statistics
from collections.abc import Callable
from dataclasses import replace
from time import process_time

import pytest
from django.http import HttpResponse
from django.template import engines
from django.test import override_settings
from django.urls import include, path, reverse

from accounts.models import Person
from oneonone import planner
from oneonone import urls as base
from oneonone.models import Line, Meeting
from oneonone.services.agenda import issuing, topics
from oneonone.services.private import margin
from oneonone.web.policy import SIGNED_IN, PersonRequest, view
from tests.cast import ClientFor, queries
from tests.scene import QUARTERLY, coming_of, make_line

TURNS = 21
MADE = dt.datetime(2026, 9, 7, 9, 0, tzinfo=dt.UTC)
BARE = (
    """{% extends "base.html" %}{% load elements %}{% block title %}Bare{% endblock %}"""
    """{% block main %}{% page_header title="Bare" %}{% endpage_header %}{% endblock %}"""
)


@view(policy=SIGNED_IN)
def bare(request: PersonRequest) -> HttpResponse:
    """The base template with a heading."""
    return HttpResponse(PAGE.render({"section": "lines"}, request))


PAGE = engines["django"].from_string(BARE)
urlpatterns = [path("bare/", bare, name="bare"), path("", include("oneonone.urls"))]
handler403, handler404 = base.handler403, base.handler404


@pytest.fixture
def long_line(manager: Person, report: Person, administrator: Person) -> Line:
    """Ines and Tomas, for four hours."""
    return make_line(manager, report, terms=replace(QUARTERLY, minutes=240), actor=administrator)


def fill(line: Line, people: tuple[Person, Person], number: int) -> None:
    """So many topics of five minutes, from both in turn, every third with a note beside it."""
    kinds = list(topics.USUAL_MINUTES)
    for n in range(number):
        actor = people[n % 2]
        wording = topics.Wording(
            title=f"Buoy {n} of the outer channel", kind=kinds[n % 7], minutes_wanted=5, detail="As *found*."
        )
        topic = topics.add(line=line, wording=wording, actor=actor, now=MADE)
        if n % 3 == 0:
            margin.write(
                topic=topic,
                words=f"Ask about buoy {n}.",
                unclear=n % 2 == 0,
                revision=0,
                actor=people[1],
                now=MADE,
                today=MADE.date(),
            )


def medians(*acts: Callable[[], object]) -> list[float]:
    """Processor seconds of each, the median of several turns in alternation."""
    spent: list[list[float]] = [[] for _ in acts]
    for act in acts:
        act()
        act()
    for _turn in range(TURNS):
        for act, seconds in zip(acts, spent, strict=True):
            gc.collect()
            begun = process_time()
            act()
            seconds.append(process_time() - begun)
    return [statistics.median(seconds) for seconds in spent]


@override_settings(ROOT_URLCONF="tests.bench.test_agenda_page")
@pytest.mark.django_db
@pytest.mark.parametrize(("topics", "most"), [(12, 5), (40, 10)])
def test_the_agenda_costs_few_bare_pages(
    topics: int, most: int, client_for: ClientFor, long_line: Line, manager: Person, report: Person
) -> None:
    fill(long_line, (manager, report), topics)
    meeting = coming_of(long_line)
    client = client_for(report)
    where, floor_at = reverse("meeting", args=[meeting.pk]), reverse("bare")
    issuing.issue(meeting=meeting, actor=manager, now=MADE)
    floor, page = medians(lambda: client.get(floor_at), lambda: client.get(where))
    content = client.get(where).content
    with queries() as made:
        client.get(where)
    with queries() as bare_made:
        client.get(floor_at)
    print(  # noqa: T201  # the figures are the point
        f"\n{topics} topics: bare {floor * 1e3:.2f} ms ({len(bare_made)} queries), page {page * 1e3:.1f} ms ="
        f" {page / floor:.2f} bare pages, {len(made)} queries, {len(content)} bytes"
        f" ({len(gzip.compress(content))} compressed)"
    )
    assert content.count(b"data-move-item") == topics
    assert page <= most * floor


@pytest.mark.django_db
def test_the_page_of_an_issued_order_plans_nothing(
    client_for: ClientFor,
    long_line: Line,
    manager: Person,
    report: Person,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    fill(long_line, (manager, report), 4)
    meeting = coming_of(long_line)
    issuing.issue(meeting=meeting, actor=manager, now=MADE)

    def refuse(*_args: object, **_more: object) -> None:
        raise AssertionError("the planner was asked")

    monkeypatch.setattr(planner, "plan", refuse)
    client = client_for(report)
    assert client.get(reverse("meeting", args=[meeting.pk])).status_code == 200
    Meeting.objects.filter(pk=meeting.pk).update(state=Meeting.State.PLANNED)
    with pytest.raises(AssertionError, match="the planner was asked"):
        client.get(reverse("meeting", args=[meeting.pk]))


@pytest.mark.django_db
def test_forty_topics_take_as_many_queries_as_twenty(
    client_for: ClientFor, long_line: Line, manager: Person, report: Person
) -> None:
    meeting, client, counts = coming_of(long_line), client_for(report), []
    for more in (20, 20):
        fill(long_line, (manager, report), more)
        client.get(reverse("meeting", args=[meeting.pk]))
        with queries() as made:
            client.get(reverse("meeting", args=[meeting.pk]))
        counts.append(len(made))
    assert counts[0] == counts[1]
