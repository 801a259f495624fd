"""One-on-ones, one line, and what can be done to it: who gets in, what works, what bad input gets."""

from __future__ import annotations

import datetime as dt
import re
from uuid import uuid4

import pytest
from django.urls import reverse

from accounts.models import DayAway, Person
from oneonone.models import Interval, Line, Meeting, Pause, Proposal
from oneonone.services.meetings import meetings
from tests.cast import ClientFor, assert_not_sees, assert_same_bytes, assert_sees, body_of, queries
from tests.scene import WEEKLY, Brought, coming_of, make_line

OF_A_LINE = [
    ("line", "get"),
    ("line-interval", "get"),
    ("line-interval", "post"),
    ("line-pause", "get"),
    ("line-pause", "post"),
    ("line-resume", "post"),
    ("line-end", "get"),
    ("line-end", "post"),
    ("line-invite-again", "post"),
    ("line-we-met", "get"),
    ("line-we-met", "post"),
    ("line-extra", "get"),
    ("line-extra", "post"),
]
KEEPERS_ONLY = {"line-pause", "line-resume", "line-end", "line-invite-again"}
INTERVAL = {
    "every": "4",
    "unit": "weeks",
    "first_day": "2026-12-10",
    "month_day": "weekday",
    "time": "09:30",
    "minutes": "45",
    "zone": "Europe/London",
    "place": "",
    "call_link": "",
}


@pytest.mark.parametrize(("name", "method"), OF_A_LINE)
class TestDoors:
    def test_an_outsider_gets_what_a_missing_line_gets(
        self, name: str, method: str, line: Line, outsider: Person, client_for: ClientFor
    ) -> None:
        ask = getattr(client_for(outsider), method)
        hidden, missing = ask(reverse(name, args=[line.pk])), ask(reverse(name, args=[uuid4()]))
        assert hidden.status_code == 404
        assert_same_bytes(hidden, missing)

    def test_the_other_report_and_the_lead_above_get_it_too(
        self,
        name: str,
        method: str,
        line: Line,
        lead_line: Line,
        peer: Person,
        lead: Person,
        client_for: ClientFor,
    ) -> None:
        for person in (peer, lead):
            assert getattr(client_for(person), method)(reverse(name, args=[line.pk])).status_code == 404

    def test_somebody_signed_out_is_sent_to_sign_in(
        self, name: str, method: str, line: Line, client: object
    ) -> None:
        answer = getattr(client, method)(reverse(name, args=[line.pk]))
        assert answer.status_code == 302
        assert answer["Location"].startswith(reverse("account_login"))

    def test_the_report_may_not_do_what_is_the_keepers(
        self, name: str, method: str, line: Line, report: Person, client_for: ClientFor
    ) -> None:
        answer = getattr(client_for(report), method)(reverse(name, args=[line.pk]))
        assert (answer.status_code == 403) is (name in KEEPERS_ONLY)


@pytest.mark.parametrize("name", [name for name, method in OF_A_LINE if method == "post"])
def test_a_wrong_method_is_refused(name: str, line: Line, manager: Person, client_for: ClientFor) -> None:
    assert client_for(manager).delete(reverse(name, args=[line.pk])).status_code == 405


class TestAll:
    def test_each_side_sees_the_other_by_name(
        self, line: Line, manager: Person, report: Person, client_for: ClientFor
    ) -> None:
        assert_sees(client_for(manager).get(reverse("lines")), report.name)
        assert_sees(client_for(report).get(reverse("lines")), manager.name)

    def test_a_date_that_only_the_interval_made_is_said_to_be(
        self, line: Line, manager: Person, client_for: ClientFor
    ) -> None:
        assert_sees(client_for(manager).get(reverse("lines")), "expected, not confirmed yet")

    def test_who_has_no_line_is_shown_the_first_step(self, outsider: Person, client_for: ClientFor) -> None:
        assert_sees(client_for(outsider).get(reverse("lines")), reverse("line-new"))

    def test_twice_the_lines_take_as_many_queries(
        self, line: Line, peer_line: Line, manager: Person, client_for: ClientFor, make_more: object
    ) -> None:
        client = client_for(manager)
        client.get(reverse("lines"))
        with queries() as few:
            client.get(reverse("lines"))
        make_more()  # type: ignore[operator]
        with queries() as many:
            client.get(reverse("lines"))
        assert len(few) == len(many)


@pytest.fixture
def make_more(manager: Person, outsider: Person, other_report: Person) -> object:
    def more() -> None:
        for person in (outsider, other_report):
            make_line(manager, person)

    return more


class TestNew:
    def send(self, client_for: ClientFor, person: Person, **changes: str) -> object:
        said = {
            **INTERVAL,
            "client_key": str(uuid4()),
            "name": "Jonas Vik",
            "email": "jonas.vik@example.org",
            "side": "report",
            **changes,
        }
        return client_for(person).post(reverse("line-new"), said)

    def test_a_manager_invites_a_report_and_the_first_meeting_exists(
        self, outsider: Person, client_for: ClientFor
    ) -> None:
        answer = self.send(client_for, outsider)
        made = Line.objects.get()
        assert answer["Location"] == reverse("line", args=[made.pk])  # type: ignore[index]
        assert (made.manager, made.report_name, made.start) == (outsider, "Jonas Vik", "invited")
        meeting = made.meetings.get()
        assert meeting.starts_at == dt.datetime(2026, 12, 10, 9, 30, tzinfo=dt.UTC)

    def test_the_same_form_sent_twice_makes_one_line(self, outsider: Person, client_for: ClientFor) -> None:
        key = str(uuid4())
        self.send(client_for, outsider, client_key=key)
        self.send(client_for, outsider, client_key=key)
        assert Line.objects.count() == 1

    @pytest.mark.parametrize(
        ("field", "typed", "said"),
        [
            ("minutes", "5", "10"),
            ("zone", "Europe/Atlantis", "Europe/London"),
            ("first_day", "2026-11-24", "has passed"),
            ("every", "0", "1"),
            ("email", "nobody", "not a complete address"),
            ("name", "", "Enter something here."),
        ],
    )
    def test_bad_input_is_refused_at_its_field_and_keeps_what_was_typed(
        self, field: str, typed: str, said: str, outsider: Person, client_for: ClientFor
    ) -> None:
        answer = self.send(client_for, outsider, place="Loading bay 4", **{field: typed})
        assert answer.status_code == 422  # type: ignore[attr-defined]
        body = answer.content.decode()  # type: ignore[attr-defined]
        assert said in body
        assert "Loading bay 4" in body
        assert typed in body
        assert not Line.objects.exists()

    def test_a_second_invitation_to_the_same_address_is_refused(
        self, outsider: Person, client_for: ClientFor
    ) -> None:
        self.send(client_for, outsider)
        answer = self.send(client_for, outsider)
        assert answer.status_code == 422  # type: ignore[attr-defined]
        assert Line.objects.count() == 1

    def test_without_a_mail_server_the_link_is_shown_once(
        self, outsider: Person, client_for: ClientFor, settings: object
    ) -> None:
        settings.MAIL_CAN_LEAVE = False  # type: ignore[attr-defined]
        client = client_for(outsider)
        client.post(
            reverse("line-new"),
            {**INTERVAL, "client_key": str(uuid4()), "name": "J", "email": "j@example.org", "side": "report"},
        )
        page = reverse("line", args=[Line.objects.get().pk])
        assert_sees(client.get(page), "/invitations/")
        assert_not_sees(client.get(page), "/invitations/")


class TestLine:
    def test_both_sides_see_what_is_agreed(
        self, line: Line, manager: Person, report: Person, client_for: ClientFor
    ) -> None:
        for person in (manager, report):
            page = client_for(person).get(reverse("line", args=[line.pk]))
            assert_sees(page, "every 13 weeks, on a Thursday at 10:00, 50 minutes")

    def test_the_report_of_an_ended_line_reads_its_closed_records_and_its_manager_nothing(
        self, closed_meeting: Meeting, manager: Person, report: Person, client_for: ClientFor
    ) -> None:
        line = closed_meeting.line
        client_for(manager)
        boss = client_for(manager)
        boss.post(reverse("line-end", args=[line.pk]))
        assert boss.get(reverse("line", args=[line.pk])).status_code == 404
        page = client_for(report).get(reverse("line", args=[line.pk]))
        assert_sees(page, reverse("record", args=[closed_meeting.pk]))

    def test_the_report_proposes_and_the_manager_sees_the_terms(
        self, line: Line, manager: Person, report: Person, client_for: ClientFor
    ) -> None:
        client_for(report).post(reverse("line-interval", args=[line.pk]), INTERVAL)
        assert Proposal.objects.get().by == report
        assert Interval.objects.filter(line=line).count() == 1
        page = client_for(manager).get(reverse("line", args=[line.pk]))
        assert_sees(page, "every 4 weeks, on a Thursday at 09:30, 45 minutes")

    def test_the_form_says_beforehand_what_moves_and_afterwards_what_has_moved(
        self, line: Line, manager: Person, report: Person, client_for: ClientFor
    ) -> None:
        address, managers = reverse("line-interval", args=[line.pk]), client_for(manager)
        theirs = client_for(report).get(address)
        assert_sees(theirs, f"The dates change once {manager.called} agrees.")
        form = managers.get(address)
        assert_sees(form, "The coming dates move at once.")
        assert_sees(form, "The one-on-one expected on Thursday 3 December moves to the first date")
        assert_sees(form, f"If {report.called} declines, the present dates come back.")
        told = managers.post(address, INTERVAL, follow=True)
        moved = "The one-on-one on Thursday 3 December, 10:00 has moved to Thursday 10 December, 09:30."
        assert_sees(told, moved)
        answer = reverse("proposal-answer", args=[Proposal.objects.get().pk])
        back = "The one-on-one on Thursday 10 December, 09:30 has moved to Thursday 3 December, 10:00."
        assert_sees(client_for(report).post(answer, {"answer": "decline"}, follow=True), back)

    def test_the_form_says_that_a_confirmed_one_on_one_keeps_its_day(
        self, line: Line, meeting: Meeting, manager: Person, client_for: ClientFor, now: dt.datetime
    ) -> None:
        meetings.invite(meeting=meeting, actor=manager, words="", now=now)
        form = client_for(manager).get(reverse("line-interval", args=[line.pk]))
        assert_sees(form, "The one-on-one on Thursday 3 December is confirmed and does not move")

    def test_a_pause_is_made_and_ended(self, line: Line, manager: Person, client_for: ClientFor) -> None:
        client = client_for(manager)
        client.post(reverse("line-pause", args=[line.pk]), {"first": "2026-11-25", "last": ""})
        assert Pause.objects.get().last is None
        assert not line.meetings.coming().exists()
        client.post(reverse("line-resume", args=[line.pk]))
        assert line.meetings.coming().exists()

    def test_a_pause_in_the_past_is_refused_and_kept_in_the_form(
        self, line: Line, manager: Person, client_for: ClientFor
    ) -> None:
        said = {"first": "2026-11-01", "last": ""}
        answer = client_for(manager).post(reverse("line-pause", args=[line.pk]), said)
        assert answer.status_code == 422
        assert b"2026-11-01" in answer.content
        assert not Pause.objects.exists()


class TestWeMet:
    def test_it_asks_whether_it_was_the_planned_one_and_yes_makes_it_that(
        self,
        line: Line,
        meeting: Meeting,
        brought: Brought,
        manager: Person,
        client_for: ClientFor,
    ) -> None:
        client = client_for(manager)
        where = reverse("line-we-met", args=[line.pk])
        asked = client.post(where, {"day": "2026-11-24"})
        assert_sees(asked, "Was this the one-on-one planned for Thursday 3 December?")
        heard = meeting.placements.get(topic=brought.crane)
        answer = client.post(where, {"day": "2026-11-24", "which": "yes", "discussed": [str(heard.pk)]})
        assert answer["Location"] == reverse("record", args=[meeting.pk])
        meeting.refresh_from_db()
        assert (meeting.state, meeting.held_on) == ("closed", dt.date(2026, 11, 24))
        outcomes = dict(meeting.placements.values_list("topic", "outcome"))
        assert outcomes[brought.crane.pk] == "discussed"
        assert outcomes[brought.sheet.pk] == "unheard"

    def test_no_makes_another_one_of_that_day_and_leaves_the_planned_one(
        self, line: Line, meeting: Meeting, manager: Person, client_for: ClientFor
    ) -> None:
        where = reverse("line-we-met", args=[line.pk])
        client_for(manager).post(where, {"day": "2026-11-23", "which": "no"})
        meeting.refresh_from_db()
        assert meeting.state == "planned"
        assert line.meetings.get(held_on=dt.date(2026, 11, 23)).is_extra

    def test_a_day_ahead_is_refused(self, line: Line, manager: Person, client_for: ClientFor) -> None:
        where = reverse("line-we-met", args=[line.pk])
        answer = client_for(manager).post(where, {"day": "2026-11-26", "which": "no"})
        assert answer.status_code == 422
        assert b"2026-11-26" in answer.content


class TestExtra:
    def test_it_stands_beside_the_interval(
        self, line: Line, meeting: Meeting, report: Person, client_for: ClientFor
    ) -> None:
        said = {"client_key": str(uuid4()), "day": "2026-11-27", "time": "15:00", "minutes": "20"}
        client = client_for(report)
        client.post(reverse("line-extra", args=[line.pk]), said)
        client.post(reverse("line-extra", args=[line.pk]), said)
        extra = line.meetings.get(is_extra=True)
        assert extra.starts_at == dt.datetime(2026, 11, 27, 15, 0, tzinfo=dt.UTC)
        meeting.refresh_from_db()
        assert meeting.state == "planned"

    def test_a_time_that_has_passed_is_refused(
        self, line: Line, report: Person, client_for: ClientFor
    ) -> None:
        said = {"client_key": str(uuid4()), "day": "2026-11-25", "time": "09:00", "minutes": "20"}
        answer = client_for(report).post(reverse("line-extra", args=[line.pk]), said)
        assert answer.status_code == 422
        assert not line.meetings.filter(is_extra=True).exists()


@pytest.mark.parametrize(("week", "day"), [("1111100", "2026-12-02"), ("1100000", "2026-12-07")])
def test_the_form_of_a_new_line_offers_a_day_a_week_on_that_the_inviter_works(
    week: str, day: str, outsider: Person, client_for: ClientFor
) -> None:
    outsider.working_week = week
    outsider.save()
    assert_sees(client_for(outsider).get(reverse("line-new")), f'name="first_day" value="{day}"')


def test_enter_in_a_field_invites_and_does_not_only_ask_what_it_would_cost(
    outsider: Person, client_for: ClientFor
) -> None:
    """A browser presses the first submit button of a form (HTML standard, 4.10.21.2 implicit submission)."""
    body = client_for(outsider).get(reverse("line-new")).content.decode()
    assert body.index(">Invite<") < body.index(">How much time would this take?<")


TWICE = INTERVAL | {"every": "1", "unit": "months", "month_day": "two_days", "second_day": "24"}


def test_two_dates_a_month_are_proposed_and_shown_again_as_they_are(
    line: Line, manager: Person, client_for: ClientFor
) -> None:
    client, address = client_for(manager), reverse("line-interval", args=[line.pk])
    assert client.post(address, TWICE).status_code == 302
    assert Interval.objects.get(second_day=24).day == 10
    assert_sees(client.get(address), 'value="two_days" selected')
    # The last day of a month is day 31, whichever is the first date of the two.
    assert client.post(address, TWICE | {"first_day": "2027-02-28", "second_day": "14"}).status_code == 302
    assert Interval.objects.get(second_day=14).day == 31


@pytest.mark.parametrize(
    ("second", "said"),
    [
        ("", "at least a week from the"),
        ("12", "at least a week from the"),
        ("32", "Enter a whole number from 1 to 31."),
    ],
)
def test_a_second_day_that_makes_no_two_dates_is_refused_and_kept(
    second: str, said: str, line: Line, manager: Person, client_for: ClientFor
) -> None:
    address = reverse("line-interval", args=[line.pk])
    answer = client_for(manager).post(address, TWICE | {"second_day": second})
    assert answer.status_code == 422
    assert said in body_of(answer)
    assert not Interval.objects.filter(unit="months", second_day__isnull=False).exists()


# --- dates that fall out


def test_the_page_says_which_date_is_skipped_as_both_are_away(
    client_for: ClientFor, manager: Person, report: Person
) -> None:
    """Weekly on Wednesdays, and the manager is away until the third of them has passed."""
    DayAway.objects.create(person=manager, first=dt.date(2026, 11, 30), last=dt.date(2026, 12, 16))
    line = make_line(manager, report, terms=WEEKLY)
    assert coming_of(line).nominal_date == dt.date(2026, 12, 16)
    for person in (manager, report):
        shown = client_for(person).get(reverse("line", args=[line.pk]))
        assert_sees(shown, "Skipped because there was no other day on which both of you work:")
        words = " ".join(re.sub("<[^>]+>", "", body_of(shown)).split())
        assert "both of you work: Wednesday 2 December, Wednesday 9 December. " in words


def test_where_no_date_is_skipped_the_page_says_nothing_and_asks_for_no_days(
    client_for: ClientFor, line: Line, manager: Person
) -> None:
    shown = client_for(manager).get(reverse("line", args=[line.pk]))
    assert_not_sees(shown, "Skipped, because")


def test_an_interval_is_set_with_five_fields_in_sight(
    line: Line, manager: Person, client_for: ClientFor
) -> None:
    address = reverse("line-interval", args=[line.pk])
    form = body_of(client_for(manager).get(address)).split('<form class="form"')[1].split("</form>")[0]
    in_sight = re.sub(r"<details.*?</details>", "", form, flags=re.DOTALL)
    names = set(re.findall(r'<(?:input|select)[^>]*\bname="(\w+)"', in_sight)) - {"csrfmiddlewaretoken"}
    assert names == {"every", "unit", "first_day", "time", "minutes"}
    assert "<details" in form
    assert 'name="zone"' in form


def test_a_refused_field_behind_the_disclosure_opens_it(
    line: Line, manager: Person, client_for: ClientFor
) -> None:
    answer = client_for(manager).post(reverse("line-interval", args=[line.pk]), TWICE | {"second_day": "99"})
    assert re.search(r"<details[^>]* open", body_of(answer))
