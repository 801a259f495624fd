"""allauth's forms with our labels. Their checks do not change."""

from __future__ import annotations

from typing import Any

from allauth.account import forms as account
from allauth.mfa.base import forms as mfa
from allauth.mfa.totp import forms as totp
from allauth.mfa.webauthn import forms as webauthn
from django import forms
from django.utils.translation import gettext_lazy as _

LABELS = {
    "login": _("E-mail address"),
    "email": _("E-mail address"),
    "remember": _("Stay signed in on this device"),
    "password": _("Password"),
    "oldpassword": _("Current password"),
    "password1": _("New password"),
    "password2": _("Repeat the new password"),
    "code": _("Code"),
    "name": _("Name"),
    "passwordless": _("Use it instead of the password"),
}
HELP = {
    "password1": _("At least 15 characters. Several words together are easy to remember and hard to guess."),
    "passwordless": _("It then has to check your fingerprint, your face or a PIN."),
}


class InOurWords(forms.Form):
    """Sets our labels and removes placeholders, which disappear when typing begins."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            field.label = LABELS.get(name, field.label)
            field.help_text = HELP.get(name, "")
            field.widget.attrs.pop("placeholder", None)


class LoginForm(InOurWords, account.LoginForm):
    """Address and password."""


class AddEmailForm(InOurWords, account.AddEmailForm):
    """The address to change to."""


class ChangePasswordForm(InOurWords, account.ChangePasswordForm):
    """The old password and the new one."""


class SetPasswordForm(InOurWords, account.SetPasswordForm):
    """A first password."""


class ResetPasswordForm(InOurWords, account.ResetPasswordForm):
    """Where to mail the code for a new password."""


class ResetPasswordKeyForm(InOurWords, account.ResetPasswordKeyForm):
    """The new password, once the code was entered."""


class ReauthenticateForm(InOurWords, account.ReauthenticateForm):
    """The password again."""


class RequestLoginCodeForm(InOurWords, account.RequestLoginCodeForm):
    """Where to mail the code for signing in."""


class ConfirmLoginCodeForm(InOurWords, account.ConfirmLoginCodeForm):
    """The code for signing in."""


class ConfirmEmailForm(InOurWords, account.ConfirmEmailVerificationCodeForm):
    """The code that shows that an address is one's own."""


class ConfirmResetForm(InOurWords, account.ConfirmPasswordResetCodeForm):
    """The code for setting a new password."""


class AuthenticateForm(InOurWords, mfa.AuthenticateForm):
    """The code of a second factor."""


class AgainForm(InOurWords, mfa.ReauthenticateForm):
    """The code of a second factor again."""


class ActivateTOTPForm(InOurWords, totp.ActivateTOTPForm):
    """The first code that the app shows."""


class AddWebAuthnForm(InOurWords, webauthn.AddWebAuthnForm):
    """A passkey or security key, and its name."""


class EditWebAuthnForm(InOurWords, webauthn.EditWebAuthnForm):
    """Its name."""
