"""The table of the routes that allauth serves: what each does for whom, by the kind of answer.

They are about the reader's own account and take no one else's rows, so there are no things to cross here
but somebody else's passkey (``test_matrix.py``). PUT is their POST by another name, and OPTIONS tells the
methods.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from tests.security.matrix import ACTORS

# One status for each of GET, HEAD, POST, PUT, PATCH, DELETE, OPTIONS, TRACE.
FORM = (200, 200, 200, 200, 405, 405, 200, 405)
ACT = (200, 200, 302, 302, 405, 405, 200, 405)
ASKS_ONCE = (200, 200, 302, 405, 405, 405, 200, 405)
CODE = (200, 200, 200, 405, 405, 405, 200, 405)
LOOK = (200, 200, 405, 405, 405, 405, 200, 405)
CLOSED = (200,) * 8
HERE = (302, 302, 302, 405, 405, 405, 200, 405)
TRY = (302, 302, 302, 302, 405, 405, 200, 405)
NOTHING_THERE = (404, 404, 405, 405, 405, 405, 200, 405)
GONE = (404,) * 8


@dataclass(frozen=True)
class Away:
    """Sent elsewhere, whatever the method: to the path that begins so."""

    to: str

    @property
    def statuses(self) -> tuple[int, ...]:
        return (302,) * 8


Outcome = tuple[int, ...] | Away
SIGN_IN, HOME = Away("/account/login/"), Away("/")
CONFIRM, FACTOR = Away("/account/confirm-email/"), Away("/account/2fa/authenticate/")
AGAIN = Away("/account/reauthenticate/")


@dataclass(frozen=True)
class Account:
    """What a route does for somebody not signed in, before the address or the second factor is shown, and
    signed in."""

    nobody: Outcome
    address: Outcome
    factor: Outcome
    signed_in: Outcome

    def of(self, actor: str) -> Outcome:
        return getattr(self, GROUPS.get(actor, "signed_in"))  # type: ignore[no-any-return]


GROUPS: Mapping[str, str] = {
    "anonymous": "nobody",
    "deactivated": "nobody",
    "unverified": "address",
    "second factor pending": "factor",
}
assert GROUPS.keys() <= set(ACTORS)


def alike(outcome: Outcome, signed_in: Outcome | None = None) -> Account:
    return Account(outcome, outcome, outcome, signed_in or outcome)


def own(signed_in: Outcome) -> Account:
    """A page about oneself: everybody else is sent to sign in."""
    return alike(SIGN_IN, signed_in)


ACCOUNT_ROWS: dict[str, Account] = {
    "account_login": Account(FORM, CONFIRM, FACTOR, HOME),
    "account_logout": alike(HERE, ASKS_ONCE),
    "account_inactive": alike(LOOK),
    "account_signup": alike(CLOSED, HOME),
    "account_reauthenticate": own(FORM),
    "account_email": own(ACT),
    "account_email_verification_sent": Account(SIGN_IN, FORM, SIGN_IN, Away("/account/email/")),
    "account_change_password": own(FORM),
    "account_set_password": own(Away("/account/password/change/")),
    "account_reset_password": alike(FORM),
    "account_confirm_login_code": alike(Away("/account/login/code/"), HOME),
    "account_confirm_password_reset_code": alike(SIGN_IN),
    "account_complete_password_reset": alike(Away("/account/password/reset/")),
    "account_password_reset_completed": alike(LOOK),
    "account_request_login_code": Account(FORM, CONFIRM, FACTOR, HOME),
    "mfa_index": own(LOOK),
    "mfa_authenticate": Account(SIGN_IN, SIGN_IN, CODE, HOME),
    "mfa_reauthenticate": own(AGAIN),
    "mfa_activate_totp": own(AGAIN),
    "mfa_deactivate_totp": own(GONE),
    "mfa_view_recovery_codes": own(NOTHING_THERE),
    "mfa_generate_recovery_codes": own(AGAIN),
    "mfa_download_recovery_codes": own(GONE),
    "mfa_list_webauthn": own(LOOK),
    "mfa_add_webauthn": own(AGAIN),
    "mfa_reauthenticate_webauthn": own(AGAIN),
    "mfa_remove_webauthn pk": own(AGAIN),
    "mfa_edit_webauthn pk": own(AGAIN),
    "mfa_login_webauthn": Account(TRY, CONFIRM, FACTOR, HOME),
}

# With a provider configured there are these too; ``test_provider_routes.py`` asks them. A row stands for each
# address, because another name of a provider than the one that is configured is missing.
BEGIN = (200, 405, 302, 405, 405, 405, 405, 405)
ANSWERED = (401, 405, 405, 405, 405, 405, 405, 405)
MISSING_BEGIN = (404, 405, 404, 405, 405, 405, 405, 405)
MISSING_ANSWER = (404, 405, 405, 405, 405, 405, 405, 405)
NOT_KNOWN = (401, 401, 405, 405, 405, 405, 200, 405)
MOVED = (301, 301, 301, 301, 301, 301, 301, 405)
CONNECTIONS = (200, 200, 200, 200, 405, 405, 200, 405)
PROVIDER_ROWS: dict[tuple[str, str], Account] = {
    ("socialaccount_login_cancelled", "/account/3rdparty/login/cancelled/"): alike(LOOK),
    ("socialaccount_login_error", "/account/3rdparty/login/error/"): own(NOT_KNOWN),
    ("socialaccount_signup", "/account/3rdparty/signup/"): alike(SIGN_IN),
    ("socialaccount_connections", "/account/3rdparty/"): own(CONNECTIONS),
    ("openid_connect_login", "/account/oidc/organisation/login/"): alike(BEGIN),
    ("openid_connect_login", "/account/oidc/another/login/"): alike(MISSING_BEGIN),
    ("openid_connect_callback", "/account/oidc/organisation/login/callback/"): alike(ANSWERED),
    ("openid_connect_callback", "/account/oidc/another/login/callback/"): alike(MISSING_ANSWER),
    # The library's addresses of earlier days lead to those of today.
    **{(path, path): own(MOVED) for path in (
        "/account/social/login/cancelled/", "/account/social/login/error/", "/account/social/signup/",
        "/account/social/connections/",
    )},
}  # fmt: skip
