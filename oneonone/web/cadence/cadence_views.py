"""Cadence: whether meetings happen, for whoever leads. Dates only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render

from oneonone.selectors.cadence import cadence, load
from oneonone.selectors.cadence import year as cadence_year
from oneonone.selectors.cadence.cadence import Group, Team
from oneonone.selectors.cadence.lines_below import Row
from oneonone.web import form_refusals
from oneonone.web.cadence import cadence_table, year_drawing
from oneonone.web.cadence.cadence_forms import FilterForm
from oneonone.web.cadence.wording import year_wording
from oneonone.web.cadence.wording.cadence_wording import sentence
from oneonone.web.cadence.wording.load_wording import load_words
from oneonone.web.cadence.wording.year_wording import Fact
from oneonone.web.cadence.year_drawing import Drawing
from oneonone.web.policy import SIGNED_IN, PersonRequest, view

# The number of pictures on a page. A manager with more reports gets a separate page.
ON_A_PAGE = 100
# Up to this number no group is folded, and at most this many lines that run out are listed.
OPEN_UP_TO = 40
SOON_NAMED = 12
# The filter is shown from this number of lines.
FILTER_FROM = 13


@dataclass(frozen=True)
class Shown:
    """One line with its picture, as shapes and in words."""

    row: Row
    drawing: Drawing
    label: str
    sums: tuple[str, ...]
    facts: tuple[Fact, ...]


@dataclass(frozen=True)
class ShownGroup:
    """One manager's lines."""

    group: Group
    shown: tuple[Shown, ...]


@view(policy=SIGNED_IN)
def index(request: PersonRequest) -> HttpResponse:
    """The reader's own reports, or with ``?everyone`` everybody below them, by manager.

    With ``?order=attention`` those are in one list, first those that need attention.
    """
    everyone = "everyone" in request.GET
    form = FilterForm(request.GET)
    wanted = form.wanted()
    team = cadence.team(request.person, now=request.now, everyone=everyone, wanted=wanted)
    grouped = everyone and request.GET.get("order") != "attention"
    context = {
        "team": team,
        "sentence": sentence(team.sums),
        "form": form,
        "filtered": bool(wanted),
        "with_filter": everyone or bool(wanted) or team.sums.lines >= FILTER_FROM,
        "grouped": grouped,
        "months": year_wording.months(cadence_year.months_of(team.today)),
        "soon": team.soon[:SOON_NAMED],
        "load_words": _load_words(request) if team.sums.lines and not everyone else "",
        "query": request.GET.urlencode(),
        **(_in_groups(request, team) if grouped else _in_one_list(request, team)),
    }
    return render(request, "cadence/cadence.html", context, status=form_refusals.status(form))


def _load_words(request: PersonRequest) -> str:
    return load_words(load.of(request.person, now=request.now))


def _in_one_list(request: PersonRequest, team: Team) -> dict[str, object]:
    page = Paginator(team.rows, ON_A_PAGE).get_page(request.GET.get("page"))
    shown = _shown(list(page.object_list))
    return {"page": page, "shown": shown, "in_words": shown}


def _in_groups(request: PersonRequest, team: Team) -> dict[str, object]:
    pages = cadence.in_pages(cadence.by_manager(team.rows), most=ON_A_PAGE)
    page = Paginator(pages, 1).get_page(request.GET.get("page"))
    groups: Sequence[Group] = page.object_list[0] if pages else ()
    shown = {one.row.key: one for one in _shown([row for group in groups for row in group.rows])}
    found = [ShownGroup(group, tuple(shown[row.key] for row in group.rows)) for group in groups]
    return {
        "page": page,
        "groups": found,
        "in_words": tuple(shown.values()),
        "opened": len(shown) <= OPEN_UP_TO,
    }


def _shown(rows: Sequence[Row]) -> tuple[Shown, ...]:
    years = cadence_year.of_rows(rows)
    found = []
    for row in rows:
        year = years[row.line_id]
        drawing, label = year_drawing.of_year(year), year_wording.label(year)
        found.append(Shown(row, drawing, label, year_wording.sums(year), year_wording.facts(year)))
    return tuple(found)


@view(policy=SIGNED_IN)
def table(request: PersonRequest) -> HttpResponse:
    """The same lines, filtered in the same way, as comma-separated values: dates only."""
    everyone = "everyone" in request.GET
    wanted = FilterForm(request.GET).wanted()
    team = cadence.team(request.person, now=request.now, everyone=everyone, wanted=wanted)
    answer = HttpResponse(cadence_table.as_csv(team.rows), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="cadence-{team.today.isoformat()}.csv"'
    return answer
