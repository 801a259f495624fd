"""What sealing costs beside storing the same notes in plain: on whole acts, and by itself.

The plain side stores the same payload in the same column of the same rows, and neither seals nor looks for a
key: it is what the page would be if notes were like any other text. Both sides go through the page, the
services and the selectors, turn by turn in alternation; the figure is the ratio of the medians. Run with -s
to see the figures.
"""

from __future__ import annotations

import datetime as dt
import gc
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from statistics import median
from time import perf_counter, process_time
from typing import Any

import pytest
from django.urls import reverse

from accounts.models import Person
from oneonone import sealed
from oneonone.models import MarginNote, Meeting, Sealed, Topic
from oneonone.selectors.private import keys as opening
from oneonone.selectors.private import margin as reading
from oneonone.services.private import keys as sealing
from oneonone.services.private import margin
from tests.cast import ClientFor
from tests.scene import make_topic

TOPICS = 12
# A note of three paragraphs; a limit is 4,000.
WORDS = "Ask who stands in on the Sunday boats, and from when on. " * 18
MOST = 1.10
TURNS = 7
ROUNDS = 5


class PlainOpener:
    """Stores the payload as it is, and reads it again."""

    def __init__(self, reader: Person) -> None:
        self.reader = reader

    def open(self, row: Sealed) -> Any:
        return json.loads(bytes(row.blob))

    def seal(self, row: Sealed, payload: dict[str, Any], now: dt.datetime) -> None:
        row.blob, row.key_number = json.dumps(payload).encode(), 1


@contextmanager
def in_plain() -> Iterator[None]:
    """Everything inside stores and reads notes in plain."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sealing, "Held", PlainOpener)
        patch.setattr(opening, "Opener", PlainOpener)
        patch.setattr(opening, "open_for", lambda reader, row: PlainOpener(reader).open(row))
        yield


class Desk:
    """One side of the comparison: a person, and notes of theirs at every topic."""

    def __init__(self, person: Person, meeting: Meeting, topics: list[Topic], now: dt.datetime) -> None:
        self.person, self.meeting, self.topics, self.now = person, meeting, topics, now
        self.revision = 0

    def write_all(self) -> None:
        """The notes at all topics, written anew."""
        for topic in self.topics:
            margin.write(
                topic=topic,
                words=f"{self.revision} {WORDS}",
                unclear=True,
                revision=self.revision,
                actor=self.person,
                now=self.now,
                today=self.now.date(),
            )
        self.revision += 1


def medians(*acts: Callable[[], object]) -> list[float]:
    """Processor seconds of each, the median of many turns in alternation."""
    seconds: list[list[float]] = [[] for _ in acts]
    gc.collect()
    gc.disable()
    try:
        for _ in range(TURNS):
            for act, spent in zip(acts, seconds, strict=True):
                begun = process_time()
                act()
                spent.append(process_time() - begun)
    finally:
        gc.enable()
    return [median(spent) for spent in seconds]


@pytest.fixture
def desk(meeting: Meeting, report: Person, now: dt.datetime) -> Desk:
    topics = [make_topic(meeting.line, report, f"Berth {number}", minutes=3) for number in range(TOPICS)]
    return Desk(report, meeting, topics, now)


def test_a_page_with_sealed_notes_costs_little_more_than_with_plain_ones(
    desk: Desk, client_for: ClientFor
) -> None:
    client, page = client_for(desk.person), reverse("meeting", args=[desk.meeting.pk])
    desk.write_all()
    sealed_blobs = {row.pk: bytes(row.blob) for row in MarginNote.objects.of(desk.person)}
    with in_plain():
        plain_blobs = {
            pk: json.dumps({"words": f"0 {WORDS}", "unclear": True}).encode() for pk in sealed_blobs
        }

    def put(blobs: dict[Any, bytes]) -> None:
        for pk, blob in blobs.items():
            MarginNote.objects.of(desk.person).filter(pk=pk).update(blob=blob)

    def look() -> None:
        body = client.get(page).content.decode()
        assert body.count("Sunday boats") >= TOPICS

    def plainly() -> None:
        with in_plain():
            look()

    spent: dict[str, list[float]] = {"sealed": [], "plain": []}
    for _ in range(ROUNDS):
        for name, blobs, act in (("sealed", sealed_blobs, look), ("plain", plain_blobs, plainly)):
            put(blobs)
            act()
            spent[name] += medians(act)
    one, other = median(spent["sealed"]), median(spent["plain"])
    print(  # noqa: T201  # the figures are the point
        f"\nagenda with {TOPICS} notes of {len(WORDS)} characters: sealed {one * 1e3:.2f} ms,"
        f" plain {other * 1e3:.2f} ms, {one / other:.3f} times"
    )
    assert one / other <= MOST


def test_writing_sealed_notes_costs_little_more_than_plain_ones(desk: Desk, client_for: ClientFor) -> None:
    client = client_for(desk.person)
    topic = desk.topics[0]
    address = reverse("margin-write", kwargs={"topic_id": topic.pk})

    def send() -> None:
        note = MarginNote.objects.of(desk.person).filter(topic=topic).first()
        answer = client.post(address, {"words": WORDS, "revision": note.revision if note else 0})
        assert answer.status_code == 302

    def plainly() -> None:
        with in_plain():
            send()

    spent: dict[str, list[float]] = {"sealed": [], "plain": []}
    for _ in range(ROUNDS):
        for name, act in (("sealed", send), ("plain", plainly)):
            MarginNote.objects.of(desk.person).filter(topic=topic).delete()
            act()
            spent[name] += medians(act)
    one, other = median(spent["sealed"]), median(spent["plain"])
    print(  # noqa: T201
        f"\none note sent from its page: sealed {one * 1e3:.2f} ms, plain {other * 1e3:.2f} ms,"
        f" {one / other:.3f} times"
    )
    assert one / other <= MOST


def test_what_sealing_costs_by_itself(desk: Desk) -> None:
    """No limit: the figures that the two above are made of."""
    desk.write_all()
    rows = list(MarginNote.objects.of(desk.person))
    payload = {"words": WORDS, "unclear": True}

    def each(act: Callable[[], object], times: int = 200) -> float:
        begun = perf_counter()
        for _ in range(times):
            act()
        return (perf_counter() - begun) / times * 1e6

    opener = opening.Opener(desk.person)
    key = opener._key(rows[0].key_number)
    where = opening.where(desk.person, rows[0])
    blob = sealed.seal(key, where, payload)
    ids = [topic.pk for topic in desk.topics]

    def beside() -> object:
        return reading.beside(desk.person, meeting=desk.meeting, topic_ids=ids)

    print(  # noqa: T201
        f"\nseal {each(lambda: sealed.seal(key, where, payload)):.0f} µs,"
        f" open {each(lambda: sealed.open_sealed(key, where, blob)):.0f} µs,"
        f" the margin of a page {each(beside, 50):.0f} µs"
    )
