"""The page of an invitation, and accepting it. Looking accepts nothing: mail programs look at links too."""

from __future__ import annotations

from allauth.account.utils import perform_login
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from accounts.models import Invitation, Person
from accounts.refusals import Refusal
from accounts.services import invitations
from oneonone.selectors import invitations as selector
from oneonone.selectors.invitations import InvitationPage, Way
from oneonone.services import joining
from oneonone.web import refused
from oneonone.web.forms.people import JoinForm
from oneonone.web.policy import PUBLIC, PublicRequest, view

GONE = 410


@view(policy=PUBLIC)
def show(request: PublicRequest, token: str) -> HttpResponse:
    """Who invites whom to what, and the way on for whoever holds the link."""
    invitation = _by_token(token)
    page = selector.page(reader=request.person, invitation=invitation, now=request.now)
    form = _empty_form(request, invitation) if page.way is Way.NEW else None
    return _answer(request, token, page, form)


@view(policy=PUBLIC, methods=("POST",))
def accept(request: PublicRequest, token: str) -> HttpResponse:
    """Accept: with the account one is signed in to, or by making one."""
    invitation = _by_token(token)
    page = selector.page(reader=request.person, invitation=invitation, now=request.now)
    if page.way is Way.NEW:
        return _accept_as_new(request, token, page)
    if page.way is Way.ACCEPT and request.person is not None:
        return _accept(request, request.person, token, page)
    return _answer(request, token, page, None, status=refused.UNPROCESSABLE)


def _accept(request: PublicRequest, person: Person, token: str, page: InvitationPage) -> HttpResponse:
    try:
        joined = joining.accept(invitation=page.invitation, actor=person, now=request.now)
    except Refusal as refusal:
        return _answer(request, token, page, None, refusal=refusal, status=refused.UNPROCESSABLE)
    messages.success(request, _("You have accepted the invitation."))
    return redirect("line", joined.line.pk) if joined.line else redirect("next")


def _accept_as_new(request: PublicRequest, token: str, page: InvitationPage) -> HttpResponse:
    form = JoinForm(request.POST, email=page.invitation.email)
    if form.is_valid():
        with refused.at(form):
            joined = joining.accept_as_new(
                invitation=page.invitation,
                name=form.cleaned_data["name"],
                password=form.cleaned_data["password"],
                zone=form.cleaned_data["zone"],
                now=request.now,
            )
            target = redirect("line", joined.line.pk) if joined.line else redirect("next")
            return _signed_in(request, joined, target.url)
    return _answer(request, token, page, form, status=refused.status(form))


def _signed_in(request: PublicRequest, joined: joining.Joined, target: str) -> HttpResponse:
    response: HttpResponse = perform_login(request, joined.person, redirect_url=target)
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
    return render(request, "pages/invitation.html", context, status=GONE if page.way is Way.OVER else status)
