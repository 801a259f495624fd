"""Two at once: of two who do the same thing in the same moment one does it, and the other is told.

On SQLite the database of the tests lies in memory, where a second writer is refused instead of waiting; these
tests run on a copy of it in a file, as a server does.
"""

from __future__ import annotations

import datetime as dt
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, connections

from accounts.models import Person
from oneonone.models import Line, MarginNote, Meeting, Order, Placement, Topic
from oneonone.selectors.dates import line_calendar
from oneonone.services.agenda import issuing, placement_by_hand, topics
from oneonone.services.lines import lines
from oneonone.services.meetings import coming_meetings, meetings
from oneonone.services.private import margin
from oneonone.services.refusals import AlreadyStarted, NotNow, Refusal, SecondLine, Stale
from tests.scene import MADE, QUARTERLY, STARTS, coming_of, make_line, make_topic

SECONDS = 20


@pytest.fixture
def company(
    transactional_db: None, tmp_path: Path, request: pytest.FixtureRequest
) -> Iterator[dict[str, Person]]:
    """Ines, Tomas and Maja in a database that several threads can write to at once."""
    people = {name: request.getfixturevalue(name) for name in ("manager", "report", "peer")}
    if connection.vendor != "sqlite":
        yield people
        return
    in_memory, name = connections["default"], connections.settings["default"]["NAME"]
    file = tmp_path / "race.sqlite3"
    with connection.cursor() as cursor:
        cursor.execute("VACUUM INTO %s", [str(file)])
    connections.settings["default"]["NAME"] = str(file)
    connections["default"] = connections.create_connection("default")
    try:
        yield people
    finally:
        connections["default"].close()
        connections.settings["default"]["NAME"] = name
        connections["default"] = in_memory


def at_once(*acts: Callable[[Callable[[], object]], object]) -> list[object]:
    """Run the acts in threads of their own and give what each returned or was refused with.

    Each act gets a function that waits until all have come as far: they read first, then go on together.
    """
    barrier = threading.Barrier(len(acts), timeout=SECONDS)
    results: list[object] = [None] * len(acts)

    def run(place: int, act: Callable[[Callable[[], object]], object]) -> None:
        try:
            results[place] = act(barrier.wait)
        except (Refusal, IntegrityError) as refusal:
            results[place] = refusal
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(place, act)) for place, act in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(SECONDS)
    return results


def refused(results: list[object]) -> list[Refusal]:
    return [result for result in results if isinstance(result, Refusal)]


def starter(meeting: Meeting, actor: Person, now: dt.datetime) -> Callable[[Callable[[], object]], object]:
    def act(all_here: Callable[[], object]) -> object:
        own = Meeting.objects.select_related("line__manager", "line__report", "interval").get(pk=meeting.pk)
        all_here()
        return meetings.start(meeting=own, actor=actor, now=now)

    return act


def test_of_two_who_start_the_same_meeting_one_starts_it(company: dict[str, Person]) -> None:
    line = make_line(company["manager"], company["report"])
    meeting = coming_of(line)
    results = at_once(
        starter(meeting, company["manager"], STARTS), starter(meeting, company["report"], STARTS)
    )
    assert [type(refusal) for refusal in refused(results)] == [NotNow]
    meeting.refresh_from_db()
    assert meeting.state == Meeting.State.UNDER_WAY
    assert Order.objects.filter(meeting=meeting).count() == 1


def test_of_two_meetings_of_a_line_started_at_once_one_is_under_way(company: dict[str, Person]) -> None:
    line = make_line(company["manager"], company["report"])
    regular = coming_of(line)
    extra = meetings.extra(
        line=line,
        day=dt.date(2026, 12, 3),
        time=dt.time(15),
        minutes=30,
        actor=company["manager"],
        now=MADE,
    )
    results = at_once(starter(regular, company["manager"], STARTS), starter(extra, company["report"], STARTS))
    assert [type(refusal) for refusal in refused(results)] == [AlreadyStarted]
    assert line.meetings.filter(state=Meeting.State.UNDER_WAY).count() == 1


def test_without_the_condition_in_the_update_both_would_start_it(company: dict[str, Person]) -> None:
    meeting = coming_of(make_line(company["manager"], company["report"]))

    def act(all_here: Callable[[], object]) -> object:
        own = Meeting.objects.get(pk=meeting.pk)
        all_here()
        if own.state != Meeting.State.PLANNED:
            raise NotNow
        own.state, own.began_at = Meeting.State.UNDER_WAY, STARTS
        own.save(update_fields=["state", "began_at"])
        return own

    assert refused(at_once(act, act)) == []


def test_of_two_who_move_topics_at_once_each_makes_a_version_or_is_told(company: dict[str, Person]) -> None:
    line = make_line(company["manager"], company["report"])
    moved = [make_topic(line, company["report"], title) for title in ("Crane slot", "Sunday boats", "Roster")]
    issuing.issue(meeting=coming_of(line), actor=company["manager"], now=MADE)

    def mover(topic: Topic, actor: str) -> Callable[[Callable[[], object]], object]:
        def act(all_here: Callable[[], object]) -> object:
            own = Placement.objects.select_related(
                "meeting__line__manager", "meeting__interval", "topic"
            ).get(topic=topic)
            all_here()
            return placement_by_hand.move(placement=own, places=1, actor=company[actor], now=MADE)

        return act

    results = at_once(mover(moved[0], "manager"), mover(moved[1], "report"))
    assert {type(result) for result in results} <= {placement_by_hand.Moved, NotNow}
    made = [result for result in results if isinstance(result, placement_by_hand.Moved)]
    assert sorted(one.order.number for one in made) == list(range(2, 2 + len(made)))


def test_of_taking_a_topic_up_and_withdrawing_it_at_once_one_is_done(company: dict[str, Person]) -> None:
    line = make_line(company["manager"], company["report"])
    topic, meeting = make_topic(line, company["report"]), coming_of(line)
    meetings.start(meeting=meeting, actor=company["manager"], now=STARTS)

    def take_up(all_here: Callable[[], object]) -> object:
        own = Meeting.objects.select_related("line__manager", "line__report", "interval").get(pk=meeting.pk)
        placement = Placement.objects.select_related("topic").get(topic=topic)
        all_here()
        return meetings.go_on(
            meeting=own, to=placement, continues=False, actor=company["manager"], now=STARTS
        )

    def withdraw(all_here: Callable[[], object]) -> object:
        own = Topic.objects.select_related("line__manager", "line__report").get(pk=topic.pk)
        all_here()
        return topics.withdraw(topic=own, actor=company["report"], now=STARTS)

    results = at_once(take_up, withdraw)
    assert len(refused(results)) == 1
    meeting.refresh_from_db()
    meetings.close(meeting=meeting, actor=company["manager"], now=STARTS)


def test_of_two_lines_made_for_a_pair_at_once_one_is_made(company: dict[str, Person]) -> None:
    def act(all_here: Callable[[], object]) -> object:
        all_here()
        return lines.create(
            actor=company["manager"],
            now=MADE,
            today=MADE.date(),
            terms=QUARTERLY,
            manager=company["manager"],
            report=company["report"],
        )

    assert [type(refusal) for refusal in refused(at_once(act, act))] == [SecondLine]
    assert Line.objects.count() == 1


def test_two_lines_that_would_close_a_circle_are_not_both_made(company: dict[str, Person]) -> None:
    make_line(company["manager"], company["report"])

    def maker(manager: str, report: str) -> Callable[[Callable[[], object]], object]:
        def act(all_here: Callable[[], object]) -> object:
            all_here()
            return make_line(company[manager], company[report])

        return act

    results = at_once(maker("report", "peer"), maker("peer", "manager"))
    assert len(refused(results)) == 1
    assert Line.objects.count() == 2


def test_a_topic_sent_twice_at_once_with_one_key_is_one_topic(company: dict[str, Person]) -> None:
    line = make_line(company["manager"], company["report"])
    key = uuid4()

    def act(all_here: Callable[[], object]) -> object:
        own = Line.objects.select_related("manager", "report").get(pk=line.pk)
        all_here()
        wording = topics.Wording(title="Crane slot")
        return topics.add(line=own, wording=wording, actor=company["report"], now=MADE, client_key=key)

    first, second = at_once(act, act)
    assert isinstance(first, Topic)
    assert first == second
    assert Topic.objects.count() == 1


def test_of_two_first_notes_in_one_margin_the_second_is_told(company: dict[str, Person]) -> None:
    meeting = coming_of(make_line(company["manager"], company["report"]))

    def act(all_here: Callable[[], object]) -> object:
        all_here()
        return margin.write(
            meeting=meeting,
            words="Ask who pays.",
            unclear=False,
            revision=0,
            actor=company["report"],
            now=MADE,
            today=MADE.date(),
        )

    assert [type(refusal) for refusal in refused(at_once(act, act))] == [Stale]
    assert MarginNote.objects.of(company["report"]).count() == 1


def line_without_a_meeting_ahead(company: dict[str, Person]) -> Line:
    line = make_line(company["manager"], company["report"])
    line.meetings.update(state=Meeting.State.NOT_HELD, is_next=False)
    return line


def planner(line: Line, now: dt.datetime) -> Callable[[Callable[[], object]], object]:
    def act(all_here: Callable[[], object]) -> object:
        own = Line.objects.select_related("manager", "report").get(pk=line.pk)
        all_here()
        return coming_meetings.ensure(line=own, now=now)

    return act


def meet_before_the_date_is_chosen(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let two find that no meeting is ahead, and the second choose its date once the first has committed.

    A first one that is alone, because the second waits for its lock, goes on after a second.
    """
    choose, arrived, second_is_here = line_calendar.last_day_taken, [0], threading.Event()
    one_at_a_time = threading.Lock()

    def last_day_taken(line: Line, *args: object, **more: object) -> dt.date:
        with one_at_a_time:
            arrived[0] += 1
            is_first = arrived[0] == 1
        if is_first:
            second_is_here.wait(1)
        else:
            second_is_here.set()
            until = time.monotonic() + SECONDS
            while not Meeting.objects.filter(line=line, state="planned").exists():
                assert time.monotonic() < until
                time.sleep(0.01)
        return choose(line, *args, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(line_calendar, "last_day_taken", last_day_taken)


def test_of_two_that_find_no_meeting_ahead_one_makes_it_and_the_other_gets_it(
    company: dict[str, Person], monkeypatch: pytest.MonkeyPatch
) -> None:
    line = line_without_a_meeting_ahead(company)
    meet_before_the_date_is_chosen(monkeypatch)
    first, second = at_once(planner(line, STARTS), planner(line, STARTS))
    assert isinstance(first, Meeting)
    assert first == second
    assert line.meetings.filter(state=Meeting.State.PLANNED).count() == 1


@pytest.mark.postgresql
def test_without_the_lock_both_make_one_and_the_database_refuses_the_second(
    company: dict[str, Person], monkeypatch: pytest.MonkeyPatch
) -> None:
    line = line_without_a_meeting_ahead(company)
    meet_before_the_date_is_chosen(monkeypatch)
    monkeypatch.setattr(coming_meetings, "lock_line", lambda line: True)
    results = at_once(planner(line, STARTS), planner(line, STARTS))
    assert sorted(type(result).__name__ for result in results) == ["IntegrityError", "Meeting"]
    assert line.meetings.filter(state=Meeting.State.PLANNED).count() == 1


@pytest.mark.postgresql
def test_without_lock_and_constraint_a_line_has_two_coming_meetings(
    company: dict[str, Person], monkeypatch: pytest.MonkeyPatch
) -> None:
    line = line_without_a_meeting_ahead(company)
    meet_before_the_date_is_chosen(monkeypatch)
    monkeypatch.setattr(coming_meetings, "lock_line", lambda line: True)
    with connection.cursor() as cursor:
        cursor.execute("DROP INDEX meeting_one_next_a_line")
    try:
        at_once(planner(line, STARTS), planner(line, STARTS))
        assert line.meetings.filter(state=Meeting.State.PLANNED).count() == 2
    finally:
        Meeting.objects.update(is_next=False)
        with connection.cursor() as cursor:
            cursor.execute(
                "CREATE UNIQUE INDEX meeting_one_next_a_line ON oneonone_meeting (line_id) WHERE is_next"
            )


def test_a_line_that_ends_while_its_next_meeting_is_made_has_none(company: dict[str, Person]) -> None:
    """Whoever read the line while it was open finds out at the lock that it has ended."""
    line = line_without_a_meeting_ahead(company)
    read_before = Line.objects.select_related("manager", "report").get(pk=line.pk)
    lines.end(line=line, actor=company["manager"], now=STARTS, today=STARTS.date())
    assert coming_meetings.ensure(line=read_before, now=STARTS) is None
    assert not line.meetings.filter(state=Meeting.State.PLANNED).exists()


def test_of_two_pauses_made_at_once_one_is_told_that_a_pause_is_there(company: dict[str, Person]) -> None:
    line = make_line(company["manager"], company["report"])

    def act(all_here: Callable[[], object]) -> object:
        own = Line.objects.select_related("manager", "report").get(pk=line.pk)
        all_here()
        return lines.pause(
            line=own, first=MADE.date(), last=None, actor=company["manager"], now=MADE, today=MADE.date()
        )

    assert [type(refusal) for refusal in refused(at_once(act, act))] == [NotNow]
    assert line.pauses.count() == 1
