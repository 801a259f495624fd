"""Addresses of lines, and of the administrator's page about them."""

from django.urls import path

from oneonone.web.views import (
    accounts,
    background,
    history,
    home,
    lines,
    met,
    passwordlinks,
    people,
    search,
    server,
    undelivered,
)

urlpatterns = [
    path("", home.index, name="next"),
    path("notices/<uuid:notice_id>/read/", home.read_notice, name="notice-read"),
    path("notices/read/", home.read_all_notices, name="notices-read"),
    path("one-on-ones/", lines.index, name="lines"),
    path("one-on-ones/new/", lines.new, name="line-new"),
    path("one-on-ones/notes/", search.own_notes, name="notes-search"),
    path("lines/<uuid:line_id>/", lines.page, name="line"),
    path("lines/<uuid:line_id>/interval/", lines.interval, name="line-interval"),
    path("lines/<uuid:line_id>/pause/", lines.pause, name="line-pause"),
    path("lines/<uuid:line_id>/resume/", lines.resume, name="line-resume"),
    path("lines/<uuid:line_id>/end/", lines.end, name="line-end"),
    path("lines/<uuid:line_id>/invitation/", lines.invite_again, name="line-invite-again"),
    path("lines/<uuid:line_id>/minutes/", history.use, name="line-history"),
    path("lines/<uuid:line_id>/we-met/", met.we_met, name="line-we-met"),
    path("lines/<uuid:line_id>/extra/", met.extra, name="line-extra"),
    path("people/", people.index, name="people"),
    path("people/lines/new/", people.new_line, name="people-line-new"),
    path("people/lines/<uuid:line_id>/confirm/", people.confirm_line, name="people-line-confirm"),
    path("people/settings/", server.settings, name="server-settings"),
    path("people/settings/closing-days/", server.add_closing_day, name="closing-day-add"),
    path(
        "people/settings/closing-days/<uuid:closing_day_id>/remove/",
        server.remove_closing_day,
        name="closing-day-remove",
    ),
    path("people/audit/", server.audit, name="audit"),
    path("people/background/", background.show, name="background"),
    path("people/background/test-mail/", background.send_test_mail, name="background-test-mail"),
    path(
        "people/background/<uuid:deferral_id>/try-again/", background.try_again, name="background-try-again"
    ),
    path("people/mails/", undelivered.index, name="mails"),
    path("people/mails/<uuid:mail_id>/looked-at/", undelivered.look_at, name="mail-looked-at"),
    path("people/<uuid:person_id>/", accounts.page, name="account"),
    path("people/<uuid:person_id>/close/", accounts.close, name="account-close"),
    path("people/<uuid:person_id>/reopen/", accounts.reopen, name="account-reopen"),
    path("people/<uuid:person_id>/password/", passwordlinks.issue, name="account-password"),
    path("people/<uuid:person_id>/second-factor/", accounts.reset_second_factor, name="account-factor"),
    path("people/<uuid:person_id>/hold/", accounts.place_hold, name="account-hold"),
    path("people/<uuid:person_id>/hold/lift/", accounts.lift_hold, name="account-hold-lift"),
    path("people/<uuid:person_id>/erase/", accounts.erase, name="account-erase"),
]
