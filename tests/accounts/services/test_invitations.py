"""An invitation is used once, in time, by whoever has the address it was sent to."""

from __future__ import annotations

import datetime as dt
import hashlib

import pytest
from allauth.account.models import EmailAddress

from accounts.models import Invitation, Person
from accounts.refusals import Refusal
from accounts.services import invitations, people

DAY = dt.timedelta(days=1)


@pytest.fixture
def sent(marta: Person, now: dt.datetime) -> tuple[Invitation, str]:
    """Marta has invited Jonas's address."""
    return invitations.invite(
        email="Jonas@AlderQuay.example ", name="Jonas Brandt", invited_by=marta, now=now
    )


def test_the_token_is_kept_as_a_hash_only(sent: tuple[Invitation, str]) -> None:
    row, token = sent
    row.refresh_from_db()
    assert len(token) == 43  # 32 bytes in base64 without padding
    assert row.token_hash == hashlib.sha256(token.encode()).hexdigest()
    assert token not in str(row.__dict__)
    assert invitations.by_token(token) == row
    assert invitations.by_token(row.token_hash) is None
    assert row.email == "jonas@alderquay.example"


def test_two_invitations_have_two_tokens(marta: Person, now: dt.datetime) -> None:
    tokens = {
        invitations.invite(email="a@b.example", name="A", invited_by=marta, now=now)[1] for _ in range(3)
    }
    assert len(tokens) == 3


@pytest.mark.parametrize(("email", "name"), [("nowhere", "A"), ("a@b.example", ""), ("a@b.example", "A\nB")])
def test_an_invitation_to_nobody_is_refused(marta: Person, email: str, name: str, now: dt.datetime) -> None:
    with pytest.raises(Refusal):
        invitations.invite(email=email, name=name, invited_by=marta, now=now)
    assert not Invitation.objects.exists()


def test_it_is_accepted_once(sent: tuple[Invitation, str], jonas: Person, now: dt.datetime) -> None:
    row, _ = sent
    accepted = invitations.accept(invitation=row, person=jonas, now=now + DAY)
    assert (accepted.accepted_by, accepted.accepted_at) == (jonas, now + DAY)
    with pytest.raises(invitations.InvitationNotOpen):
        invitations.accept(invitation=row, person=jonas, now=now + DAY)


def test_a_row_read_before_somebody_else_accepted_claims_nothing(
    sent: tuple[Invitation, str], jonas: Person, now: dt.datetime
) -> None:
    row, _ = sent
    read_earlier = Invitation.objects.get(pk=row.pk)
    invitations.accept(invitation=row, person=jonas, now=now)
    assert read_earlier.is_open(now)
    with pytest.raises(invitations.InvitationNotOpen):
        invitations.accept(invitation=read_earlier, person=jonas, now=now)


def test_it_runs_out_after_seven_days_to_the_second(
    sent: tuple[Invitation, str], jonas: Person, now: dt.datetime
) -> None:
    row, _ = sent
    with pytest.raises(invitations.InvitationNotOpen):
        invitations.accept(invitation=row, person=jonas, now=now + 7 * DAY)
    assert invitations.accept(invitation=row, person=jonas, now=now + 7 * DAY - dt.timedelta(seconds=1))


def test_another_person_does_not_get_in_by_it(
    sent: tuple[Invitation, str], administrator: Person, marta: Person, now: dt.datetime
) -> None:
    for somebody in (administrator, marta):
        with pytest.raises(invitations.NotYourAddress):
            invitations.accept(invitation=sent[0], person=somebody, now=now)
    sent[0].refresh_from_db()
    assert sent[0].accepted_at is None


def test_an_address_added_and_not_verified_is_not_enough(
    sent: tuple[Invitation, str], marta: Person, now: dt.datetime
) -> None:
    claimed = EmailAddress.objects.create(user=marta, email="jonas@alderquay.example", verified=False)
    with pytest.raises(invitations.NotYourAddress):
        invitations.accept(invitation=sent[0], person=marta, now=now)
    claimed.verified = True
    claimed.save()
    assert invitations.accept(invitation=sent[0], person=marta, now=now)


def test_a_deactivated_person_accepts_nothing(
    sent: tuple[Invitation, str], jonas: Person, now: dt.datetime
) -> None:
    jonas.is_active = False
    jonas.save()
    with pytest.raises(invitations.NotYourAddress):
        invitations.accept(invitation=sent[0], person=jonas, now=now)


def test_an_invitation_dies_with_its_senders_account(
    sent: tuple[Invitation, str], marta: Person, jonas: Person, now: dt.datetime
) -> None:
    marta.is_active = False
    marta.save()
    with pytest.raises(invitations.InvitationNotOpen):
        invitations.accept(invitation=sent[0], person=jonas, now=now)


def test_withdrawing_stops_the_link_at_once(
    sent: tuple[Invitation, str], jonas: Person, now: dt.datetime
) -> None:
    assert invitations.revoke(invitation=sent[0], now=now).revoked_at == now
    assert invitations.revoke(invitation=sent[0], now=now + DAY).revoked_at == now
    with pytest.raises(invitations.InvitationNotOpen):
        invitations.accept(invitation=sent[0], person=jonas, now=now)
    with pytest.raises(invitations.InvitationNotOpen):
        invitations.resend(invitation=sent[0], now=now)


def test_what_was_accepted_is_neither_withdrawn_nor_sent_again(
    sent: tuple[Invitation, str], jonas: Person, now: dt.datetime
) -> None:
    invitations.accept(invitation=sent[0], person=jonas, now=now)
    with pytest.raises(invitations.InvitationNotOpen):
        invitations.revoke(invitation=sent[0], now=now)
    with pytest.raises(invitations.InvitationNotOpen):
        invitations.resend(invitation=sent[0], now=now)


def test_sending_again_gives_a_new_link_and_a_new_term_and_ends_the_old_link(
    sent: tuple[Invitation, str], jonas: Person, now: dt.datetime
) -> None:
    row, old = sent
    read_by_the_old_link = Invitation.objects.get(pk=row.pk)
    token = invitations.resend(invitation=row, now=now + 8 * DAY)
    assert invitations.by_token(old) is None
    assert invitations.by_token(token) == row
    assert row.expires_at == now + 15 * DAY
    with pytest.raises(invitations.InvitationNotOpen):
        invitations.accept(invitation=read_by_the_old_link, person=jonas, now=now + 8 * DAY)
    assert invitations.accept(invitation=row, person=jonas, now=now + 8 * DAY)


def accept_as_new(row: Invitation, now: dt.datetime, password: str = "seven lamps on a quay") -> Person:
    return invitations.accept_as_new(
        invitation=row, name="Jonas Brandt", password=password, zone="Europe/London", now=now
    )


def test_somebody_new_gets_an_account_with_the_invited_address(
    sent: tuple[Invitation, str], now: dt.datetime
) -> None:
    made = accept_as_new(sent[0], now)
    assert made.email == "jonas@alderquay.example"
    assert EmailAddress.objects.get(user=made).verified
    sent[0].refresh_from_db()
    assert sent[0].accepted_by == made
    assert not made.is_administrator


def test_no_account_comes_from_an_invitation_that_is_not_open(
    sent: tuple[Invitation, str], now: dt.datetime
) -> None:
    with pytest.raises(invitations.InvitationNotOpen):
        accept_as_new(sent[0], now + 7 * DAY)
    assert Person.objects.count() == 1  # the sender


def test_a_weak_password_leaves_the_invitation_open(sent: tuple[Invitation, str], now: dt.datetime) -> None:
    with pytest.raises(people.PasswordRefused):
        accept_as_new(sent[0], now, password="lamps")
    assert Invitation.objects.open_at(now).filter(pk=sent[0].pk).exists()
    assert accept_as_new(sent[0], now)
