"""Devices on which people have signed in before, named by a signed cookie that does not authenticate.

Whoever guesses passwords from elsewhere must not keep the owner of an account out, so tries on such a device
are counted apart (``sign_in_limits``). The idea is OWASP's *device cookie* (Slow Down Online Guessing Attacks
with Device Cookies); its name is recalled from memory.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse

from accounts.models import Person

SALT = "oneonone.device"
AGE_SECONDS = 400 * 24 * 3600  # the longest that browsers keep a cookie (RFC 6265bis, 5.5)
MOST_PEOPLE = 8  # of a shared computer: keeps the cookie short


@dataclass(frozen=True)
class Device:
    """A browser by a random name, and the ids of the people who signed in with it, the latest last."""

    name: str
    people: tuple[str, ...]

    def knows(self, person: Person) -> bool:
        """Whether this person has signed in here before."""
        return str(person.pk) in self.people


def device_of(request: HttpRequest) -> Device | None:
    """The device that the request comes from; None when nobody signed in on it, or the cookie is forged."""
    try:
        name, *people = signing.loads(
            request.COOKIES[settings.DEVICE_COOKIE_NAME], salt=SALT, max_age=AGE_SECONDS
        )
    except (KeyError, ValueError, TypeError, signing.BadSignature):
        return None
    return Device(name, tuple(people))


def remember(request: HttpRequest, response: HttpResponse, person: Person) -> None:
    """Let the browser keep that this person has signed in on it."""
    known = device_of(request)
    others = [one for one in known.people if one != str(person.pk)] if known else []
    people = [*others, str(person.pk)][-MOST_PEOPLE:]
    response.set_cookie(
        settings.DEVICE_COOKIE_NAME,
        signing.dumps([known.name if known else secrets.token_urlsafe(12), *people], salt=SALT),
        max_age=AGE_SECONDS,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )
