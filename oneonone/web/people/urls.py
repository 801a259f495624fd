"""Addresses of people, contacts, settings and the server."""

from __future__ import annotations

from django.urls import URLPattern, path

from oneonone.web.people import (
    account_views,
    contact_views,
    invitation_views,
    password_link_views,
    people_views,
    server_views,
    settings_views,
    setup_views,
)

urlpatterns: list[URLPattern] = [
    path("invitations/<str:token>/", invitation_views.show, name="invitation"),
    path("invitations/<str:token>/accept/", invitation_views.accept, name="invitation-accept"),
    path("new-password/<str:token>/", password_link_views.use, name="new-password"),
    path("setup/<str:token>/", setup_views.first_administrator, name="setup"),
    path("settings/", settings_views.show, name="settings"),
    path("settings/profile/", settings_views.change_profile, name="settings-profile"),
    path("settings/mail/", settings_views.change_mail, name="settings-mail"),
    path("settings/days-away/", settings_views.add_days_away, name="days-away-add"),
    path(
        "settings/days-away/<uuid:day_away_id>/remove/",
        settings_views.remove_days_away,
        name="days-away-remove",
    ),
    path("contacts/", contact_views.show, name="contacts"),
    path("contacts/edit/", contact_views.edit, name="contacts-edit"),
    path("people/", people_views.index, name="people"),
    path("people/lines/new/", people_views.new_line, name="people-line-new"),
    path("people/lines/<uuid:line_id>/confirm/", people_views.confirm_line, name="people-line-confirm"),
    path("people/settings/", server_views.settings, name="server-settings"),
    path("people/settings/closing-days/", server_views.add_closing_day, name="closing-day-add"),
    path(
        "people/settings/closing-days/<uuid:closing_day_id>/remove/",
        server_views.remove_closing_day,
        name="closing-day-remove",
    ),
    path("people/audit/", server_views.audit, name="audit"),
    path("people/<uuid:person_id>/", account_views.page, name="account"),
    path("people/<uuid:person_id>/close/", account_views.close, name="account-close"),
    path("people/<uuid:person_id>/reopen/", account_views.reopen, name="account-reopen"),
    path("people/<uuid:person_id>/password/", password_link_views.issue, name="account-password"),
    path("people/<uuid:person_id>/second-factor/", account_views.reset_second_factor, name="account-factor"),
    path("people/<uuid:person_id>/hold/", account_views.place_hold, name="account-hold"),
    path("people/<uuid:person_id>/hold/lift/", account_views.lift_hold, name="account-hold-lift"),
    path("people/<uuid:person_id>/erase/", account_views.erase, name="account-erase"),
]
