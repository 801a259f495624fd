"""Accepting is one step: the invitation, the account and the side of the line, or none of them."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Invitation, Person
from accounts.services import invitations
from oneonone.models import Line, Notice, Side
from oneonone.services.lines import joining, lines
from oneonone.services.refusals import Circle, SecondLine
from tests.scene import QUARTERLY, make_line


def invited(by: Person, email: str, now: dt.datetime, side: Side = Side.REPORT) -> tuple[Line, Invitation]:
    made = lines.create(
        actor=by,
        now=now,
        today=now.date(),
        terms=QUARTERLY,
        manager=by if side is Side.REPORT else None,
        report=by if side is Side.MANAGER else None,
        invited=lines.Invited(name="Somebody", email=email, side=side),
    )
    assert made.line.invitation
    return made.line, made.line.invitation


def test_somebody_new_takes_the_side_they_were_asked_to_take(manager: Person, now: dt.datetime) -> None:
    line, invitation = invited(manager, "ada@example.org", now)
    joined = joining.accept_as_new(
        invitation=invitation,
        name="Ada Brook",
        password="seven lamps on a long quay",
        zone="Europe/London",
        now=now,
    )
    assert joined.line
    assert joined.line.pk == line.pk
    assert (joined.line.manager, joined.line.report, joined.line.report_name) == (manager, joined.person, "")
    assert Notice.objects.get(person=manager, kind=Notice.Kind.JOINED).line == line


def test_a_manager_is_invited_from_below(report: Person, outsider: Person, now: dt.datetime) -> None:
    _line, invitation = invited(report, outsider.email, now, Side.MANAGER)
    joined = joining.accept(invitation=invitation, actor=outsider, now=now)
    assert joined.line
    assert (joined.line.manager, joined.line.report) == (outsider, report)


def test_a_second_line_for_the_pair_takes_the_acceptance_back(
    manager: Person, report: Person, now: dt.datetime
) -> None:
    _line, invitation = invited(manager, report.email, now)
    make_line(manager, report)
    with pytest.raises(SecondLine):
        joining.accept(invitation=invitation, actor=report, now=now)
    invitation.refresh_from_db()
    assert invitation.is_open(now)


def test_a_circle_takes_the_acceptance_back(manager: Person, report: Person, now: dt.datetime) -> None:
    make_line(manager, report)
    _line, invitation = invited(report, manager.email, now)
    with pytest.raises(Circle) as caught:
        joining.accept(invitation=invitation, actor=manager, now=now)
    invitation.refresh_from_db()
    assert invitation.is_open(now)
    assert "Tomas" not in str(caught.value)


def test_no_account_is_left_behind_where_the_line_is_refused(manager: Person, now: dt.datetime) -> None:
    _line, invitation = invited(manager, "ada@example.org", now)
    invitations.revoke(invitation=invitation, now=now)
    with pytest.raises(invitations.InvitationNotOpen):
        joining.accept_as_new(
            invitation=invitation,
            name="Ada Brook",
            password="seven lamps on a long quay",
            zone="Europe/London",
            now=now,
        )
    assert list(Person.objects.all()) == [manager]


def test_an_invitation_to_no_line_only_makes_the_account(administrator: Person, now: dt.datetime) -> None:
    invitation, _token = invitations.invite(
        email="ada@example.org", name="Ada Brook", invited_by=administrator, now=now
    )
    joined = joining.accept_as_new(
        invitation=invitation,
        name="Ada Brook",
        password="seven lamps on a long quay",
        zone="Europe/London",
        now=now,
    )
    assert joined.line is None
    assert joined.person.email == "ada@example.org"
