"""Addresses of notices, mails and proposals that wait for an answer."""

from __future__ import annotations

from django.urls import URLPattern, path

from oneonone.web.notices import background_views, mail_views, next_views, proposal_views, unsubscribe_views

urlpatterns: list[URLPattern] = [
    path("unsubscribe/<str:token>/", unsubscribe_views.one_click, name="unsubscribe"),
    path("", next_views.index, name="next"),
    path("notices/<uuid:notice_id>/read/", next_views.read_notice, name="notice-read"),
    path("notices/read/", next_views.read_all_notices, name="notices-read"),
    path("people/background/", background_views.show, name="background"),
    path("people/background/test-mail/", background_views.send_test_mail, name="background-test-mail"),
    path(
        "people/background/<uuid:deferral_id>/try-again/",
        background_views.try_again,
        name="background-try-again",
    ),
    path("people/mails/", mail_views.index, name="mails"),
    path("people/mails/<uuid:mail_id>/looked-at/", mail_views.look_at, name="mail-looked-at"),
    path("proposals/<uuid:proposal_id>/answer/", proposal_views.answer, name="proposal-answer"),
    path("proposals/<uuid:proposal_id>/withdraw/", proposal_views.withdraw, name="proposal-withdraw"),
]
