"""The policies of allauth's pages, which cannot declare them themselves.

``PUBLIC`` are the ways in, ``SIGNED_IN`` the pages about one's own account; every row that the latter show or
change is looked up among the rows of whoever asks. Middleware enforces it: a page that allauth does not
exempt asks for signing in.
"""

from __future__ import annotations

from django.conf import settings

from oneonone.web.policy import PUBLIC, SIGNED_IN, Policy

POLICIES: dict[str, Policy] = {
    "account_login": PUBLIC,
    "account_logout": PUBLIC,
    "account_inactive": PUBLIC,
    "account_signup": PUBLIC,
    "account_email_verification_sent": PUBLIC,
    "account_reset_password": PUBLIC,
    "account_confirm_password_reset_code": PUBLIC,
    "account_complete_password_reset": PUBLIC,
    "account_password_reset_completed": PUBLIC,
    "account_request_login_code": PUBLIC,
    "account_confirm_login_code": PUBLIC,
    "mfa_authenticate": PUBLIC,
    "mfa_login_webauthn": PUBLIC,
    "account_reauthenticate": SIGNED_IN,
    "account_email": SIGNED_IN,
    "account_change_password": SIGNED_IN,
    "account_set_password": SIGNED_IN,
    "mfa_index": SIGNED_IN,
    "mfa_reauthenticate": SIGNED_IN,
    "mfa_activate_totp": SIGNED_IN,
    "mfa_deactivate_totp": SIGNED_IN,
    "mfa_view_recovery_codes": SIGNED_IN,
    "mfa_generate_recovery_codes": SIGNED_IN,
    "mfa_download_recovery_codes": SIGNED_IN,
    "mfa_list_webauthn": SIGNED_IN,
    "mfa_add_webauthn": SIGNED_IN,
    "mfa_edit_webauthn": SIGNED_IN,
    "mfa_remove_webauthn": SIGNED_IN,
    "mfa_reauthenticate_webauthn": SIGNED_IN,
}

# Pages that are there only where a provider is configured.
if settings.PROVIDER:
    POLICIES |= {
        "openid_connect_login": PUBLIC,
        "openid_connect_callback": PUBLIC,
        "socialaccount_login_cancelled": PUBLIC,
        "socialaccount_login_error": PUBLIC,
        "socialaccount_signup": PUBLIC,
        "socialaccount_connections": SIGNED_IN,
    }
