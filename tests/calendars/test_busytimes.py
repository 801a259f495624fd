"""What is read from a calendar file: when its owner is busy, and nothing else; and what is refused."""

from __future__ import annotations

import datetime as dt
from time import process_time

import icalendar
import pytest

from oneonone.calendars import busytimes
from oneonone.calendars.recurrence import Budget
from oneonone.calendars.reduced import MOST_BYTES, MOST_EVENTS, reduced
from oneonone.calendars.refusals import (
    CalendarRefusal,
    CutShort,
    NotACalendar,
    TooDeep,
    TooLarge,
    TooManyTimes,
    UnknownZone,
    UnreadableEntry,
)

UTC = dt.UTC
FIRST = dt.datetime(2026, 11, 25, 10, 0, tzinfo=UTC)
UNTIL = FIRST + dt.timedelta(weeks=13)


def a_calendar(*events: str, before: str = "") -> bytes:
    """A file with these events, each given as its lines."""
    body = "".join(f"BEGIN:VEVENT\n{event.strip()}\nEND:VEVENT\n" for event in events)
    text = f"BEGIN:VCALENDAR\nVERSION:2.0\nPRODID:-//Alder Quay//EN\n{before}{body}END:VCALENDAR\n"
    return text.replace("\n", "\r\n").encode()


def at(day: int, hour: int, minute: int = 0, month: int = 12, year: int = 2026) -> dt.datetime:
    return dt.datetime(year, month, day, hour, minute, tzinfo=UTC)


def read(*events: str, zone: str = "Europe/London", before: str = "") -> tuple[busytimes.Block, ...]:
    return busytimes.read(a_calendar(*events, before=before), zone=zone, first=FIRST, until=UNTIL)


# --- what counts ------------------------------------------------------------------------------------------
def test_an_entry_is_its_begin_and_its_end() -> None:
    assert read("DTSTART:20261201T100000Z\nDTEND:20261201T113000Z") == ((at(1, 10), at(1, 11, 30)),)
    assert read("DTSTART:20261201T100000Z\nDURATION:PT45M") == ((at(1, 10), at(1, 10, 45)),)


def test_a_time_without_a_zone_is_on_its_owners_clocks() -> None:
    """RFC 5545, 3.3.5, form 1: floating, the same local time wherever somebody is."""
    event = "DTSTART:20261201T100000\nDTEND:20261201T110000"
    assert read(event, zone="America/New_York") == ((at(1, 15), at(1, 16)),)


@pytest.mark.parametrize(
    "name",
    [
        "America/New_York",
        "america/new_york",
        "Eastern Standard Time",
        "/example.org/20250101_1/America/New_York",
        '"US/Eastern"',
    ],
)
def test_zones_are_known_by_the_names_that_programs_write(name: str) -> None:
    event = f"DTSTART;TZID={name}:20261201T100000\nDTEND;TZID={name}:20261201T110000"
    assert read(event) == ((at(1, 15), at(1, 16)),)


def test_what_a_file_says_of_a_zone_is_not_believed() -> None:
    """A definition that puts London nine hours off, under a bomb of a rule."""
    zone = (
        "BEGIN:VTIMEZONE\nTZID:Europe/London\nBEGIN:STANDARD\nDTSTART:19700101T000000\n"
        "RRULE:FREQ=SECONDLY\nTZOFFSETFROM:+0900\nTZOFFSETTO:+0900\nEND:STANDARD\nEND:VTIMEZONE\n"
    )
    event = "DTSTART;TZID=Europe/London:20261201T100000\nDURATION:PT1H"
    assert read(event, before=zone) == ((at(1, 10), at(1, 11)),)


def test_a_whole_day_is_whole_on_its_owners_clocks() -> None:
    assert read("DTSTART;VALUE=DATE:20261201\nDTEND;VALUE=DATE:20261203", zone="Europe/Berlin") == (
        (at(30, 23, month=11), at(2, 23)),
    )
    one_day = ((at(1, 0), at(2, 0)),)
    assert read("DTSTART;VALUE=DATE:20261201") == one_day
    assert read("DTSTART;VALUE=DATE:20261201\nDTEND;VALUE=DATE:20261201") == one_day


@pytest.mark.parametrize("more", ["TRANSP:TRANSPARENT", "STATUS:CANCELLED", "status:cancelled"])
def test_what_takes_no_time_is_left_out(more: str) -> None:
    assert read(f"DTSTART:20261201T100000Z\nDURATION:PT1H\n{more}") == ()


def test_tentative_and_opaque_entries_take_time() -> None:
    assert len(read("DTSTART:20261201T100000Z\nDURATION:PT1H\nSTATUS:TENTATIVE\nTRANSP:OPAQUE")) == 1


def test_what_overlaps_or_touches_is_one_block_and_what_reaches_over_the_edge_is_cut() -> None:
    assert read(
        "DTSTART:20261201T100000Z\nDURATION:PT1H",
        "DTSTART:20261201T110000Z\nDURATION:PT1H",
        "DTSTART:20261201T103000Z\nDURATION:PT10M",
        "DTSTART:20261125T093000Z\nDURATION:PT1H",
        "DTSTART:20261124T093000Z\nDURATION:PT1H",
        "DTSTART:20270401T093000Z\nDURATION:PT1H",
        "DTSTART:20261202T093000Z",
    ) == ((FIRST, at(25, 10, 30, month=11)), (at(1, 10), at(1, 12)))


def test_an_entry_of_the_other_kinds_is_none() -> None:
    other = "BEGIN:VTODO\nDTSTART:20261201T100000Z\nDUE:20261201T110000Z\nEND:VTODO\n"
    inside = (
        "DTSTART:20261202T100000Z\nDURATION:PT1H\n"
        "BEGIN:VALARM\nTRIGGER:-PT15M\nDURATION:P300D\nREPEAT:9\nEND:VALARM"
    )
    assert read(inside, before=other) == ((at(2, 10), at(2, 11)),)


# --- what repeats -----------------------------------------------------------------------------------------
def test_a_series_from_years_ago_keeps_its_local_time_across_the_clock_change() -> None:
    """New York leaves summer time on 1 November 2026: 09:00 is 14:00 UTC in the window."""
    event = (
        "UID:a\nDTSTART;TZID=America/New_York:19970902T090000\nDURATION:PT1H\n"
        "RRULE:FREQ=WEEKLY;INTERVAL=2;WKST=SU"
    )
    found = read(event)
    # 2 September 1997 and 1 December 2026 are both Tuesdays, 10,682 days apart: 763 fortnights.
    assert found[:2] == ((at(1, 14), at(1, 15)), (at(15, 14), at(15, 15)))
    assert len(found) == 7


def test_left_out_and_further_dates_and_moved_instances() -> None:
    series = (
        "UID:a\nDTSTART;TZID=Europe/London:20261201T100000\nDURATION:PT1H\nRRULE:FREQ=WEEKLY;COUNT=5\n"
        "EXDATE;TZID=Europe/London:20261208T100000\nEXDATE;VALUE=DATE:20261215\n"
        "RDATE:20261203T100000Z\nRDATE;VALUE=PERIOD:20261204T100000Z/PT2H,20261205T100000Z/20261205T103000Z"
    )
    moved = "UID:a\nRECURRENCE-ID:20261222T100000Z\nDTSTART:20261223T140000Z\nDURATION:PT30M"
    gone = "UID:a\nRECURRENCE-ID:20261229T100000Z\nDTSTART:20261229T100000Z\nDURATION:PT1H\nSTATUS:CANCELLED"
    assert read(series, moved, gone) == (
        (at(1, 10), at(1, 11)),
        (at(3, 10), at(3, 11)),
        (at(4, 10), at(4, 12)),
        (at(5, 10), at(5, 10, 30)),
        (at(23, 14), at(23, 14, 30)),
    )


def test_a_change_of_this_and_all_later_ones() -> None:
    series = "UID:a\nDTSTART:20261201T100000Z\nDURATION:PT1H\nRRULE:FREQ=WEEKLY;UNTIL=20261222T100000Z"
    later = (
        "UID:a\nRECURRENCE-ID;RANGE=THISANDFUTURE:20261208T100000Z\nDTSTART:20261209T120000Z\nDURATION:PT30M"
    )
    assert read(series, later) == (
        (at(1, 10), at(1, 11)),
        (at(9, 12), at(9, 12, 30)),
        (at(16, 12), at(16, 12, 30)),
        (at(23, 12), at(23, 12, 30)),
    )


def test_a_time_that_the_clocks_skip_moves_on() -> None:
    """London, 28 March 2027: 01:30 does not exist, and is read as 02:30 summer time (RFC 5545, 3.3.5)."""
    event = "DTSTART;TZID=Europe/London:20270321T013000\nDURATION:PT15M\nRRULE:FREQ=WEEKLY"
    first = dt.datetime(2027, 3, 27, tzinfo=UTC)
    found = busytimes.read(
        a_calendar(event), zone="Europe/London", first=first, until=first + dt.timedelta(days=3)
    )
    assert found == ((at(28, 1, 30, month=3, year=2027), at(28, 1, 45, month=3, year=2027)),)


# --- nothing else -----------------------------------------------------------------------------------------
WORDS = b"SUMMARY:Interview at the harbour office\r\nDESCRIPTION:Do not\r\n  tell\r\nLOCATION:Pier 4\r\n"


def test_no_word_of_an_entry_reaches_the_parser() -> None:
    data = a_calendar("UID:a\nDTSTART:20261201T100000Z\nDURATION:PT1H").replace(
        b"END:VEVENT", WORDS + b"ATTENDEE;CN=Bea Moreau:mailto:bea@example.org\r\nEND:VEVENT"
    )
    kept = reduced(data, Budget())
    assert all(word not in kept for word in (b"Interview", b"tell", b"Pier", b"Bea", b"bea@"))
    assert b"DTSTART:20261201T100000Z" in kept


# --- hostile and broken files -----------------------------------------------------------------------------
ONE = "DTSTART:20261201T100000Z\nDURATION:PT1H\n"


@pytest.mark.parametrize(
    ("data", "refusal"),
    [
        (b"", NotACalendar),
        (b"PK\x03\x04" + bytes(200), NotACalendar),
        (b"<html><body>Sign in first</body></html>", NotACalendar),
        (b"BEGIN:VCARD\r\nFN:Bea\r\nEND:VCARD\r\n", NotACalendar),
        (b"BEGIN:VCALENDAR\r\n" + bytes(100), NotACalendar),
        (b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nDTSTART:20261201T100000Z\r\n", CutShort),
        (b"BEGIN:VCALENDAR\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n", CutShort),
        (b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\nBEGIN:VEVENT\r\nEND:VEVENT\r\n", CutShort),
        (b"BEGIN:VCALENDAR\r\n" + b"BEGIN:VEVENT\r\n" * 400_000, TooLarge),
        (b"BEGIN:VCALENDAR\r\n" + b"BEGIN:VEVENT\r\n" * 100_000, TooDeep),
        (b"BEGIN:VCALENDAR\r\n" + b"BEGIN:VEVENT\r\nEND:VEVENT\r\n" * (MOST_EVENTS + 1), TooLarge),
        (b"BEGIN:VCALENDAR\r\nX-A:" + b"a" * MOST_BYTES, TooLarge),
        (a_calendar(ONE + "EXDATE:" + "20261201T100000Z," * 5000 + "20261201T100000Z"), TooLarge),
        (a_calendar("SUMMARY:nothing"), UnreadableEntry),
        (a_calendar("DTSTART:20261301T250000Z"), UnreadableEntry),
        (a_calendar("DTSTART:soon"), UnreadableEntry),
        (a_calendar("DTSTART:100000"), UnreadableEntry),
        (a_calendar("DTSTART;TZID=Asia/Tokyo:00010101T000000\nDTEND:00010101T000000Z"), UnreadableEntry),
        (a_calendar("DTSTART:99991231T235900Z\nDURATION:P300D"), UnreadableEntry),
        (a_calendar("DTSTART:20261201T100000Z\nDTSTART:20261202T100000Z"), UnreadableEntry),
        (a_calendar("DTSTART:20261201T100000Z\nDURATION:P99999999999999999D"), UnreadableEntry),
        (a_calendar("DTSTART;VALUE=PERIOD:20261201T100000Z/PT1H"), UnreadableEntry),
        (a_calendar(ONE + "RRULE:FREQ=NEVER"), UnreadableEntry),
        (a_calendar(ONE + "RRULE:FREQ=DAILY;INTERVAL=0"), UnreadableEntry),
        (a_calendar(ONE + "RRULE:FREQ=DAILY;INTERVAL=-1"), UnreadableEntry),
        (a_calendar(ONE + "RRULE:FREQ=DAILY;COUNT=99999999999999999"), UnreadableEntry),
        (a_calendar(ONE + "RRULE:FREQ=WEEKLY;BYDAY=XX"), UnreadableEntry),
        (a_calendar(ONE + "RRULE:FREQ=MONTHLY;BYSETPOS=0;BYDAY=MO"), UnreadableEntry),
        (a_calendar(ONE + "RRULE:FREQ=WEEKLY\nRRULE:FREQ=DAILY"), UnreadableEntry),
        (a_calendar(ONE + "RRULE:FREQ=SECONDLY"), TooManyTimes),
        (a_calendar(ONE + "RRULE:FREQ=MINUTELY;COUNT=5"), TooManyTimes),
        (a_calendar(ONE + "RRULE:FREQ=DAILY;BYHOUR=1,2,3;BYMINUTE=1,2"), TooManyTimes),
        (a_calendar(ONE + "RRULE:FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30"), TooManyTimes),
        (a_calendar("DTSTART:19700101T100000Z\nRRULE:FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30"), TooManyTimes),
        (a_calendar(*[ONE + "RRULE:FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30"] * 50), TooManyTimes),
        (a_calendar(ONE + f"RRULE:FREQ=YEARLY;BYYEARDAY={','.join(['1'] * 401)}"), TooManyTimes),
        (a_calendar("DTSTART;TZID=Mars/Base:20261201T100000"), UnknownZone),
        (a_calendar("DTSTART;TZID=../../etc/passwd:20261201T100000"), UnknownZone),
        (a_calendar("DTSTART;TZID=localtime:20261201T100000"), UnknownZone),
    ],
)
def test_a_hostile_or_broken_file_is_refused_in_words_and_soon(
    data: bytes, refusal: type[CalendarRefusal]
) -> None:
    began = process_time()
    with pytest.raises(CalendarRefusal) as refused:
        busytimes.read(data, zone="Europe/London", first=FIRST, until=UNTIL)
    assert type(refused.value) is refusal
    assert str(refused.value).count(".") >= 2
    assert process_time() - began < 20


def dates_in_lines(name: str, lines: int) -> str:
    """A list of dates as long as two megabytes allow, in lines that are short enough."""
    return "\n".join([f"{name}:" + ",".join(["20261201T100000Z"] * 3_500)] * lines)


@pytest.mark.parametrize(
    ("extra", "refusal"),
    [
        (dates_in_lines("EXDATE", 33), TooManyTimes),
        (dates_in_lines("RDATE", 33), TooManyTimes),
        ("\n".join(["EXDATE:20261201T100000Z"] * 70_000), TooManyTimes),
        ("\n".join(["UID:a"] * 200_000), TooLarge),
        ("\n".join(["STATUS:CONFIRMED"] * 90_000), TooLarge),
    ],
    ids=["exceptions", "further dates", "exceptions in lines", "names", "states"],
)
def test_what_is_listed_date_by_date_is_refused_before_it_is_parsed(
    extra: str, refusal: type[CalendarRefusal], monkeypatch: pytest.MonkeyPatch
) -> None:
    def parse(*args: object, **kwargs: object) -> None:
        raise AssertionError("parsed")

    monkeypatch.setattr(icalendar.Calendar, "from_ical", parse)
    with pytest.raises(refusal):
        read(ONE + "RRULE:FREQ=DAILY\n" + extra)


def test_exceptions_and_repetitions_share_one_budget() -> None:
    """Each within the bounds, both together not."""
    daily = [ONE + "RRULE:FREQ=DAILY"] * 2_000
    exceptions = ONE + dates_in_lines("EXDATE", 6)
    assert len(read(*daily)) == 85
    assert len(read(exceptions)) == 0
    with pytest.raises(TooManyTimes):
        read(exceptions, *daily)


def test_many_changes_of_all_later_instances_are_looked_up_and_not_gone_through(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Two hundred series with five hundred changes took a minute when each start was held against each."""
    looked, instant = [0], vars(busytimes._Moment)["instant"].fget

    def counted(moment: busytimes._Moment) -> dt.datetime:
        looked[0] += 1
        found: dt.datetime = instant(moment)
        return found

    monkeypatch.setattr(busytimes._Moment, "instant", property(counted))
    series = ["UID:a\nDTSTART:20261201T100000Z\nDURATION:PT1H\nRRULE:FREQ=DAILY"] * 200
    changes = [
        f"UID:a\nRECURRENCE-ID;RANGE=THISANDFUTURE:202612{n % 28 + 1:02}T{n // 28:02}0000Z\n"
        f"DTSTART:20261201T1{n % 10}0000Z\nDURATION:PT1H"
        for n in range(500)
    ]
    assert read(*series, *changes)
    assert looked[0] < 200_000


def test_too_many_pieces_are_refused() -> None:
    events = [
        f"DTSTART:20261126T{hour:02}{minute:02}00Z\nDURATION:PT1M\nRRULE:FREQ=DAILY"
        for hour in range(24)
        for minute in range(0, 60, 20)
    ]
    with pytest.raises(TooManyTimes):
        read(*events)


def test_a_full_calendar_of_five_thousand_daily_entries_is_within_the_bounds() -> None:
    event = "DTSTART:20200101T100000Z\nDURATION:PT1H\nRRULE:FREQ=DAILY;UNTIL=20261130T000000Z"
    assert len(read(*[event] * MOST_EVENTS)) == 5


def test_a_rule_counted_from_its_first_date_ends_where_it_says() -> None:
    """2,000 days from 1 June 2021 end on 21 November 2026: before the window."""
    assert read("DTSTART:20210601T100000Z\nDURATION:PT1H\nRRULE:FREQ=DAILY;COUNT=2000") == ()
    assert len(read("DTSTART:20210601T100000Z\nDURATION:PT1H\nRRULE:FREQ=DAILY;COUNT=2010")) == 7


def test_line_ends_folds_and_a_byte_order_mark_of_other_programs_are_read() -> None:
    data = a_calendar("DTSTART;TZID=Europe/\n London:20261201T100000\nDURATION:P\n\tT1H")
    for spelling in (data, data.replace(b"\r\n", b"\n"), b"\xef\xbb\xbf" + data):
        found = busytimes.read(spelling, zone="UTC", first=FIRST, until=UNTIL)
        assert found[0][0] == at(1, 10)
