"""Where the demo may be loaded, and how its dates hang on the day of the first start."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from django.db import transaction
from pytest_django import Settings

from accounts.models import Person
from oneonone.models import KindFactor, Meeting, Order, Placement
from oneonone.services import demo

WEDNESDAY = dt.datetime(2026, 11, 25, 7, 5, tzinfo=dt.UTC)
LONDON = ZoneInfo("Europe/London")


@pytest.mark.django_db
def test_outside_the_demo_nothing_is_loaded(settings: Settings) -> None:
    settings.DEMO = False
    with pytest.raises(demo.NotTheDemo):
        demo.load(WEDNESDAY)
    assert not Person.objects.exists()
    assert demo.people() == ()


@pytest.mark.django_db
def test_where_people_are_nothing_is_loaded(settings: Settings, manager: Person) -> None:
    settings.DEMO = True
    with pytest.raises(demo.NotTheDemo):
        demo.load(WEDNESDAY)
    assert list(Person.objects.all()) == [manager]


@pytest.mark.parametrize(
    ("now", "starts"),
    [
        (dt.datetime(2026, 11, 25, 0, 1, tzinfo=dt.UTC), dt.time(10, 0)),
        (dt.datetime(2026, 11, 28, 14, 40, tzinfo=dt.UTC), dt.time(15, 45)),
        (dt.datetime(2027, 3, 28, 8, 0, tzinfo=dt.UTC), dt.time(10, 0)),
        (dt.datetime(2028, 2, 29, 23, 40, tzinfo=dt.UTC), dt.time(23, 0)),
        (dt.datetime(2027, 1, 1, 22, 50, 30, tzinfo=dt.UTC), dt.time(23, 0)),
    ],
)
@pytest.mark.django_db
def test_whenever_it_is_first_started_the_meeting_is_today(
    now: dt.datetime, starts: dt.time, settings: Settings
) -> None:
    settings.DEMO = True
    demo.load(now)
    meeting = Meeting.objects.get(line__report__name="Tomas Lindqvist", state=Meeting.State.ISSUED)
    local = meeting.starts_at.astimezone(LONDON)
    assert (local.date(), local.time()) == (now.astimezone(LONDON).date(), starts)


@pytest.mark.parametrize("day", [23, 25, 29])
@pytest.mark.django_db
def test_what_went_before_it_was_done_on_working_days(day: int, settings: Settings) -> None:
    """Started on a Monday, a Wednesday, a Sunday: asked, moved, issued and brought from Monday to Friday."""
    settings.DEMO = True
    demo.load(dt.datetime(2026, 11, day, 15, 5, tzinfo=dt.UTC))
    meeting = Meeting.objects.get(line__report__name="Tomas Lindqvist", state=Meeting.State.ISSUED)
    (moved,), (order,) = meeting.moves.all(), meeting.orders.all()
    # What was kept from the last meeting has been there since that day.
    brought = [row.added_at for row in meeting.placements.filter(added_at__gt=meeting.invited_at)]
    assert brought
    assert meeting.invited_at < moved.at < order.at < meeting.starts_at  # type: ignore[operator]
    done = [meeting.invited_at, moved.at, order.at, *brought]
    assert {at.isoweekday() for at in done if at is not None} <= {1, 2, 3, 4, 5}


def days_of_everything(now: dt.datetime) -> list[tuple[str, str, int, str]]:
    """Every meeting by its people, its distance in days from the day of the start, and its state."""
    today = now.astimezone(LONDON).date()
    return sorted(
        (
            meeting.line.someone.name,
            meeting.line.report.name if meeting.line.report else meeting.line.report_name,
            (meeting.starts_at.astimezone(LONDON).date() - today).days,
            meeting.state,
        )
        for meeting in Meeting.objects.filter(interval__unit="weeks").select_related(
            "line__manager", "line__report"
        )
    )


@pytest.mark.django_db
def test_on_another_day_it_is_the_same_scenario_shifted(settings: Settings) -> None:
    settings.DEMO = True
    found = []
    for now in (WEDNESDAY, WEDNESDAY + dt.timedelta(days=70)):
        with transaction.atomic():
            demo.load(now)
            found.append(days_of_everything(now))
            transaction.set_rollback(True)
    assert found[0] == found[1]


def minutes_of_today() -> list[tuple[str, int]]:
    """The topics of the order issued for today, first to last, with their minutes."""
    order = Order.objects.get(meeting__line__report__name="Tomas Lindqvist", meeting__state="issued")
    titles = {str(pk): title for pk, title in Placement.objects.values_list("pk", "topic__title")}
    return [(titles[slot["key"]], slot["end"] - slot["start"]) for slot in order.plan["slots"]]


@pytest.mark.django_db
def test_started_again_it_is_the_same_order_and_the_same_history(settings: Settings) -> None:
    settings.DEMO = True
    found = []
    for _start in range(2):
        with transaction.atomic():
            demo.load(WEDNESDAY)
            factors = list(KindFactor.objects.order_by("kind").values_list("kind", "hundredths", "lines"))
            found.append((minutes_of_today(), factors))
            transaction.set_rollback(True)
    assert found[0] == found[1]
