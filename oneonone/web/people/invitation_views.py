"""The page of an invitation, and accepting it. GET does not accept, because mail programs open links too."""

from __future__ import annotations

from allauth.account.utils import perform_login
from django.conf import settings
from django.contrib import messages
from django.contrib.auth.hashers import make_password
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from accounts.models import Invitation, Person
from accounts.refusals import Refusal
from accounts.services import invitations
from accounts.services.people import AddressTaken
from oneonone.selectors.people import invitations as selector
from oneonone.selectors.people.invitations import InvitationPage, Way
from oneonone.services.lines import joining
from oneonone.web import form_refusals
from oneonone.web.people.people_forms import JoinForm
from oneonone.web.policy import PUBLIC, PublicRequest, view

GONE = 410


@view(policy=PUBLIC)
def show(request: PublicRequest, token: str) -> HttpResponse:
    """Show the inviter, the line, and how the reader can accept."""
    invitation = _by_token(token)
    page = selector.page(reader=request.person, invitation=invitation, now=request.now)
    form = _empty_form(request, invitation) if page.way is Way.SIGNED_OUT else None
    return _answer(request, token, page, form)


@view(policy=PUBLIC, methods=("POST",))
def accept(request: PublicRequest, token: str) -> HttpResponse:
    """Accept with the signed-in account, or create one."""
    invitation = _by_token(token)
    page = selector.page(reader=request.person, invitation=invitation, now=request.now)
    if page.way is Way.SIGNED_OUT:
        return _accept_as_new(request, token, page)
    if page.way is Way.ACCEPT and request.person is not None:
        return _accept(request, request.person, token, page)
    return _answer(request, token, page, None, status=form_refusals.UNPROCESSABLE)


def _accept(request: PublicRequest, person: Person, token: str, page: InvitationPage) -> HttpResponse:
    try:
        joined = joining.accept(invitation=page.invitation, actor=person, now=request.now)
    except Refusal as refusal:
        return _answer(request, token, page, None, refusal=refusal, status=form_refusals.UNPROCESSABLE)
    messages.success(request, _("You have accepted the invitation."))
    return redirect("line", joined.line.pk) if joined.line else redirect("next")


def _accept_as_new(request: PublicRequest, token: str, page: InvitationPage) -> HttpResponse:
    form = JoinForm(request.POST, email=page.invitation.email)
    if form.is_valid():
        with form_refusals.at(form):
            try:
                joined = joining.accept_as_new(
                    invitation=page.invitation,
                    name=form.cleaned_data["name"],
                    password=form.cleaned_data["password"],
                    zone=form.cleaned_data["zone"],
                    now=request.now,
                )
            except AddressTaken:
                return _has_account(request, token, page, form)
            if not settings.MAIL_CAN_LEAVE:
                return _sign_in_now(request)
            return _signed_in(request, joined)
    return _answer(request, token, page, form, status=form_refusals.status(form))


def _has_account(request: PublicRequest, token: str, page: InvitationPage, form: JoinForm) -> HttpResponse:
    """Nothing was made. A link that came by mail is held by the owner of the address, who may be told so.

    One that was handed over may be in anybody's hands: they get the answer that a new account gets, for the
    same work.
    """
    if settings.MAIL_CAN_LEAVE:
        form.add_error(None, _("This address already has an account. Sign in to accept."))
        return _answer(request, token, page, form, status=form_refusals.status(form))
    make_password(form.cleaned_data["password"])
    return _sign_in_now(request)


def _sign_in_now(request: PublicRequest) -> HttpResponse:
    messages.success(
        request,
        _(
            "Sign in with your address now. If you had no account, use the password that you have just "
            "chosen. If you already had one, your password has not changed: sign in, then open the link "
            "again."
        ),
    )
    return redirect("account_login")


def _signed_in(request: PublicRequest, joined: joining.Joined) -> HttpResponse:
    target = redirect("line", joined.line.pk) if joined.line else redirect("next")
    response: HttpResponse = perform_login(request, joined.person, redirect_url=target.url)
    return response


def _by_token(token: str) -> Invitation:
    invitation = invitations.by_token(token)
    if invitation is None:
        raise Http404
    return invitation


def _empty_form(request: PublicRequest, invitation: Invitation) -> JoinForm:
    return JoinForm(
        email=invitation.email,
        initial={"name": invitation.name, "zone": invitation.invited_by.zone},
    )


def _answer(
    request: PublicRequest,
    token: str,
    page: InvitationPage,
    form: JoinForm | None,
    *,
    refusal: Refusal | None = None,
    status: int = 200,
) -> HttpResponse:
    context = {"page": page, "form": form, "token": token, "refusal": refusal}
    return render(request, "people/invitation.html", context, status=GONE if page.way is Way.OVER else status)
