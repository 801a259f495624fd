"""The allauth adapters: sign-up, account mail and error messages.

An adapter is a face: it reads the clock and calls services. Accounts begin with an invitation or with the
setup link, on pages of ours, so allauth's own way of signing up is closed.
"""

from __future__ import annotations

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.core import context as current
from allauth.mfa.adapter import DefaultMFAAdapter
from django.conf import settings
from django.contrib.auth.base_user import AbstractBaseUser
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from accounts.models import Person
from oneonone import clock
from oneonone.selectors.people import organisation
from oneonone.services import audit
from oneonone.services.notices import mails
from oneonone.services.private import second_factor_secrets
from oneonone.web.middleware import IdleMiddleware
from oneonone.web.signing_in import devices, sign_in_limits


class Adapter(DefaultAccountAdapter):
    """Accounts."""

    error_messages = DefaultAccountAdapter.error_messages | {
        "email_password_mismatch": _(
            "The address or the password is wrong. Check both, or set a new password."
        ),
        "too_many_login_attempts": _("Too many tries in a short time. Wait five minutes, then try again."),
        "too_many_login_attempts_code": _(
            "Too many tries in a short time. Wait five minutes, or have a code mailed to you."
        ),
        "too_many_this_hour": _("Too many tries for this address. Wait an hour, then try again."),
        "too_many_this_hour_code": _(
            "Too many tries for this address. Wait an hour, or have a code mailed to you."
        ),
        "incorrect_code": _("This code is wrong. Enter it exactly as shown in the mail or in the app."),
        "incorrect_password": _("This password is wrong."),
        "enter_current_password": _("This password is wrong. Enter the one you sign in with now."),
        "same_as_current": _("This is already your address. Enter another one."),
        "email_taken": _("Somebody else already signs in with this address. Enter another one."),
        "duplicate_email": _("This is already one of your addresses. Enter another one."),
        "rate_limited": _("Too many tries in a short time. Wait a few minutes."),
    }

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Closed: an account is made where an invitation is accepted, bound to the invited address."""
        return False

    def get_password_change_redirect_url(self, request: HttpRequest) -> str:
        """Back to where one came from."""
        return reverse("settings")

    def get_email_verification_redirect_url(self, email_address: Any) -> str:
        """Back to where one came from, for those who are signed in."""
        return reverse("settings") if self.request.user.is_authenticated else reverse("account_login")

    def post_login(self, request: HttpRequest, user: AbstractBaseUser, **kwargs: Any) -> HttpResponse:
        """Write the sign-in to the audit trail."""
        if isinstance(user, Person):
            audit.note(actor=user, act="signed in", person=user, now=clock.now())
        IdleMiddleware.begin(request)
        # What is known of browsers goes when their sessions have run out, and not only when they come again.
        request.session.clear_expired()
        response: HttpResponse = super().post_login(request, user, **kwargs)
        if isinstance(user, Person):
            devices.remember(request, response, user)
        return response

    def pre_authenticate(self, request: HttpRequest, **credentials: Any) -> None:
        """Refuse a password without checking it if too many were refused before."""
        try:
            self._counted = sign_in_limits.count_try(request, credentials.get("email") or "")
        except sign_in_limits.TooManyTries as refusal:
            said = "too_many_this_hour" if refusal.hour else "too_many_login_attempts"
            raise self.validation_error(f"{said}_code" if settings.MAIL_CAN_LEAVE else said) from None

    def _rollback_login_failed_rl_usage(self) -> None:
        """The password was right: allauth takes the try back here."""
        sign_in_limits.take_back(self._counted)

    def _delete_login_attempts_cached_email(self, request: HttpRequest, **credentials: Any) -> None:
        """A password was reset with a code from the owner's mailbox: allauth forgets refused tries here."""
        sign_in_limits.forget(request, credentials.get("email") or "")

    def authentication_failed(self, request: HttpRequest, **credentials: Any) -> None:
        """Note that a password was refused, and for whom if it is somebody here.

        The typed text is not stored, because people type passwords into the wrong field. An unknown address
        causes the same look-up and the same row.
        """
        person = Person.objects.with_address(credentials.get("email") or "").first()
        audit.note(actor=None, act="sign-in refused", person=person, now=clock.now())

    def send_notification_mail(
        self, template_prefix: str, user: AbstractBaseUser, *args: Any, **kwargs: Any
    ) -> None:
        """Note what changed about how somebody signs in, and tell them."""
        if isinstance(user, Person):
            act = template_prefix.rpartition("/")[2].replace("_", " ")
            audit.note(actor=user, act=act, person=user, now=clock.now())
        super().send_notification_mail(template_prefix, user, *args, **kwargs)

    def format_email_subject(self, subject: str) -> str:
        """Return the subject without the host name of the request."""
        return str(subject)

    def send_mail(self, template_prefix: str, email: str, context: dict[str, Any]) -> None:
        """Queue the mail, so that the response does not wait for a mail server.

        Somebody without an account is not written to, or this server could be made to write to anybody. The
        same work is done for them up to the last step, so that the time taken tells nothing.
        """
        ours: dict[str, Any] = {
            "organisation_name": organisation.display_name(),
            "base_url": settings.BASE_URL,
            "timestamp": clock.now(),
        }
        message = self.render_mail(template_prefix, email, {"email": email} | context | ours)
        user = context.get("user")
        with transaction.atomic():
            mails.owe_account_mail(
                to_address=email,
                person=user if isinstance(user, Person) else None,
                subject=str(message.subject),
                body=str(message.body),
                now=ours["timestamp"],
            )
            if template_prefix.endswith("/unknown_account"):
                transaction.set_rollback(True)


class SecondFactorAdapter(DefaultMFAAdapter):
    """Second factors: named after the organisation and the person, as they show in an app or a browser."""

    error_messages = DefaultMFAAdapter.error_messages | {
        "incorrect_code": _(
            "This code is wrong. Enter the one that the app shows now, or an unused recovery code."
        ),
        "unverified_email": _("Confirm your address first: enter the code that was mailed to it."),
        "cannot_generate_recovery_codes": _("Add an authenticator app or a passkey first."),
    }

    def encrypt(self, text: str) -> str:
        """Secrets of apps and the seed of recovery codes are stored locked."""
        return second_factor_secrets.lock(text)

    def decrypt(self, encrypted_text: str) -> str:
        """The secret again, to compare codes with."""
        return second_factor_secrets.unlock(encrypted_text)

    def get_totp_issuer(self) -> str:
        """The organisation, not the host of the request."""
        return organisation.display_name()

    def get_public_key_credential_rp_entity(self) -> dict[str, str]:
        """The host that passkeys are bound to, and the name that the browser shows for it."""
        return {
            "id": current.request.get_host().partition(":")[0],
            "name": organisation.display_name(),
        }

    def get_public_key_credential_user_entity(self, user: AbstractBaseUser) -> dict[str, Any]:
        """The person as their authenticator lists them."""
        name = user.name if isinstance(user, Person) else ""
        return super().get_public_key_credential_user_entity(user) | {"display_name": name}
