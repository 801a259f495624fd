"""Addresses of the pages about people themselves: joining, settings, contacts, what is private."""

from __future__ import annotations

from django.urls import URLPattern, path

from oneonone.web.views import (
    absence,
    contacts,
    invitations,
    passwordlinks,
    privacy,
    settings,
    setup,
    unsubscribe,
)

urlpatterns: list[URLPattern] = [
    path("invitations/<str:token>/", invitations.show, name="invitation"),
    path("invitations/<str:token>/accept/", invitations.accept, name="invitation-accept"),
    path("new-password/<str:token>/", passwordlinks.use, name="new-password"),
    path("setup/<str:token>/", setup.first_administrator, name="setup"),
    path("settings/", settings.show, name="settings"),
    path("settings/profile/", settings.change_profile, name="settings-profile"),
    path("settings/mail/", settings.change_mail, name="settings-mail"),
    path("settings/days-away/", settings.add_days_away, name="days-away-add"),
    path("settings/days-away/<uuid:day_away_id>/remove/", settings.remove_days_away, name="days-away-remove"),
    path("settings/days-away/<uuid:day_away_id>/", absence.show, name="absence"),
    path("settings/days-away/<uuid:day_away_id>/propose/", absence.propose, name="absence-propose"),
    path("contacts/", contacts.show, name="contacts"),
    path("contacts/edit/", contacts.edit, name="contacts-edit"),
    path("privacy/", privacy.show, name="privacy"),
    path("unsubscribe/<str:token>/", unsubscribe.one_click, name="unsubscribe"),
]
