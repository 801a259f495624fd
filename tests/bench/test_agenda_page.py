"""The agenda page with forty topics, beside a page that draws forty fixed rows through the same elements.

The floor is a page of the same frame and the same elements: a rail of forty slots, each with its box, its
buttons, its disclosures, its form and its margin, every word and address a constant; nothing is read for it
and nothing decided. It goes through the same client, middleware and policy. The figure is the ratio of the
two medians of processor time, taken in alternation. The order that a page before issue computes at each look
is measured apart. Run with -s to see the figures.
"""

from __future__ import annotations

import datetime as dt
import gc
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
from oneonone.selectors.agenda import planning
from oneonone.services import margin
from oneonone.services.agenda import issuing, topics
from oneonone.web.forms.margin import NoteForm
from oneonone.web.forms.topics import ImportanceForm
from oneonone.web.policy import SIGNED_IN, PersonRequest, view
from tests.cast import ClientFor, queries
from tests.scene import QUARTERLY, coming_of, make_line

TURNS = 15
MADE = dt.datetime(2026, 9, 7, 9, 0, tzinfo=dt.UTC)


# A row as the page has it: box, three acts in a row, two disclosures, a form, four acts more, the margin.
FIXED = """{% extends "base.html" %}{% load i18n static elements %}
{% block title %}Fixed{% endblock %}
{% block styles %}<link rel="stylesheet" href="{% static "oneonone/css/pages/agenda.css" %}">{% endblock %}
{% block main %}{% page_header title="Fixed" eyebrow="Fixed" lead="Fixed" %}{% endpage_header %}
{% rail label="Fixed" manager_brings="12" report_brings="21" ends_at=ends margin_tab="Yours" movable=True %}
{% for row in rows %}{% rail_slot starts_at=row.at minutes=5 zone="Europe/London" id=row.id movable=True %}
{% topic_box title="Fixed" side="report" minutes=5 whose="Fixed" meta="Fixed" reason="Fixed" beside="Fixed" %}
<div class="topic-tools">{% post_button "Earlier" action="/x/" places="-1" about="Fixed" small=True kind="quiet" move="earlier" id=row.id %}
{% post_button "Later" action="/x/" places="1" about="Fixed" small=True kind="quiet" move="later" id=row.id %}
{% button "Move to" href="/x/" about="Fixed" small=True kind="quiet" %}
{% disclosure summary="Why" %}<div><p>Fixed</p><p>Fixed</p><p><a href="/x/">Fixed</a></p></div>{% enddisclosure %}
{% disclosure summary="Change" %}<form class="line-entry" method="post" action="/x/" novalidate>{% csrf_token %}
{% field form.importance size="short" %}{% button "Say so" about="Fixed" small=True %}</form><div class="actions">
{% post_button "Must" action="/x/" must="1" about="Fixed" small=True %}{% post_button "Park" action="/x/" about="Fixed" small=True %}
{% button "Edit" href="/x/" about="Fixed" small=True %}{% button "Withdraw" href="/x/" about="Fixed" small=True kind="quiet" %}
</div>{% enddisclosure %}</div>{% endtopic_box %}
{% rail_margin tab="Yours" %}<div class="margin-tools">{% post_button "Unclear" action="/x/" unclear="1" about="Fixed" small=True kind="quiet" %}
{% disclosure summary="Write" %}<form method="post" action="/x/" novalidate>{% csrf_token %}{% field note.words label_hidden=True %}
{% button "Keep" about="Fixed" small=True %}</form>{% enddisclosure %}</div>{% endrail_margin %}
{% endrail_slot %}{% endfor %}{% endrail %}{% endblock %}"""  # noqa: E501  # markup


@view(policy=SIGNED_IN)
def fixed(request: PersonRequest) -> HttpResponse:
    """Forty rows of constants, through the elements of the agenda page."""
    starts = dt.datetime(2026, 12, 3, 10, 0, tzinfo=dt.UTC)
    rows = [{"at": starts + dt.timedelta(minutes=4 + 5 * n), "id": f"row-{n}"} for n in range(40)]
    context = {
        "rows": rows,
        "ends": starts,
        "form": ImportanceForm(initial={"importance": "in_turn"}),
        "note": NoteForm(initial={"words": "", "revision": 0}),
    }
    return HttpResponse(PAGE.render(context, request))


PAGE = engines["django"].from_string(FIXED)
urlpatterns = [path("fixed/", fixed, name="fixed"), path("", include("oneonone.urls"))]
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
    for _turn in range(TURNS):
        for act, seconds in zip(acts, spent, strict=True):
            gc.collect()
            begun = process_time()
            act()
            seconds.append(process_time() - begun)
    return [statistics.median(seconds) for seconds in spent]


@override_settings(ROOT_URLCONF="tests.bench.test_agenda_page")
@pytest.mark.django_db
def test_forty_topics_cost_at_most_three_times_forty_fixed_rows(
    client_for: ClientFor, long_line: Line, manager: Person, report: Person
) -> None:
    fill(long_line, (manager, report), 40)
    meeting = coming_of(long_line)
    client, where = client_for(report), reverse("meeting", args=[meeting.pk])
    floor, before = medians(lambda: client.get("/fixed/"), lambda: client.get(where))
    (planned,) = medians(lambda: planning.standing(meeting))
    issuing.issue(meeting=meeting, actor=manager, now=MADE)
    floor, issued = medians(lambda: client.get("/fixed/"), lambda: client.get(where))
    assert client.get(where).content.count(b"data-move-item") == 40
    with queries() as made:
        client.get(where)
    print(  # noqa: T201  # the figures are the point
        f"\nfloor {floor * 1e3:.1f} ms; issued {issued * 1e3:.1f} ms = {issued / floor:.2f} floors, "
        f"{len(made)} queries; before issue {before * 1e3:.1f} ms = {before / floor:.2f} floors, "
        f"of which the order {planned * 1e3:.1f} ms"
    )
    assert issued <= 3 * floor


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
