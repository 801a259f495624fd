"""The audit trail in words."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from oneonone.models import Organisation
from oneonone.selectors.people.audit_trail import Event

ACTS: dict[str, str | Promise] = {
    "account closed": gettext_lazy("closed the account"),
    "account connected": gettext_lazy("connected an account at the provider"),
    "account disconnected": gettext_lazy("disconnected the account at the provider"),
    "account made": gettext_lazy("made an account by accepting an invitation"),
    "account opened again": gettext_lazy("opened the account again"),
    "closing day added": gettext_lazy("added a closing day"),
    "closing day removed": gettext_lazy("removed a closing day"),
    "contacts changed": gettext_lazy("changed the contacts"),
    "email changed": gettext_lazy("changed the e-mail address"),
    "email confirm": gettext_lazy("confirmed an e-mail address"),
    "email deleted": gettext_lazy("removed an e-mail address"),
    "invitation accepted": gettext_lazy("accepted an invitation"),
    "invitation link shown": gettext_lazy("was shown the link of an invitation, to hand it over"),
    "invitation resent": gettext_lazy("sent an invitation again"),
    "legal hold lifted": gettext_lazy("lifted the legal hold"),
    "legal hold placed": gettext_lazy("placed a legal hold"),
    "line confirmed": gettext_lazy("confirmed a line"),
    "line ended": gettext_lazy("ended a line"),
    "line joined": gettext_lazy("joined a line"),
    "line made": gettext_lazy("added a line"),
    "line paused": gettext_lazy("paused a line"),
    "line resumed": gettext_lazy("resumed a line"),
    "mail looked at": gettext_lazy("removed a mail from the list of mails that may not have arrived"),
    "password changed": gettext_lazy("changed the password"),
    "password link made": gettext_lazy("made a link for a new password"),
    "password reset": gettext_lazy("set a new password by mail"),
    "password set with a link": gettext_lazy("set a new password with a link"),
    "password set": gettext_lazy("set a password"),
    "person erased": gettext_lazy("erased the person"),
    "profile changed": gettext_lazy("changed their own settings"),
    "recovery codes generated": gettext_lazy("made new recovery codes"),
    "row tried again": gettext_lazy("had something tried again that a background job could not do"),
    "second factor reset": gettext_lazy("took the second factors away"),
    "server set up": gettext_lazy("set the server up"),
    "sessions ended": gettext_lazy("ended sessions of their own"),
    "settings changed": gettext_lazy("changed the settings of the server"),
    "sign-in refused": gettext_lazy("was refused at signing in"),
    "signed in": gettext_lazy("signed in"),
    "test mail sent": gettext_lazy("sent themselves a test mail"),
    "totp activated": gettext_lazy("added an authenticator app"),
    "totp deactivated": gettext_lazy("removed the authenticator app"),
    "webauthn added": gettext_lazy("added a passkey or security key"),
    "webauthn removed": gettext_lazy("removed a passkey or security key"),
}


@dataclass(frozen=True)
class Said:
    """One act as a row of the page."""

    event: Event
    who: str
    what: str
    more: str


def said(event: Event) -> Said:
    """The act in words. One that no words are known for is shown by its name."""
    # A refused sign-in has no actor, so the account that was tried is shown.
    who = event.by or event.about or _("somebody not signed in")
    return Said(
        event=event,
        who=who,
        what=str(ACTS.get(event.act, event.act)),
        more="; ".join(_fact(name, value) for name, value in sorted(event.facts.items())),
    )


def _fact(name: str, value: object) -> str:
    if name == "second_factor_for":
        return _("second factor: %(who)s") % {
            "who": dict(Organisation.SecondFactorFor.choices).get(str(value), value)
        }
    if name == "lead_needs_confirmed_lines":
        return _("leads see confirmed lines only") if value else _("leads see every line below them")
    if name == "fields":
        return _("fields: %(names)s") % {"names": value}
    return f"{name.replace('_', ' ')}: {value}"
