"""Rate limits for refused passwords, by account and by network origin.

A password is counted before it is looked at and taken back when it was right, so that tries at the same time
count as well. The rates stand in ``ACCOUNT_RATE_LIMITS``:

- from one network origin, whatever the addresses: against trying one password on everybody;
- for one address from one origin, and for one address from everywhere: against guessing somebody's password;
- on a device that this person has signed in on before, and for whoever is signed in: counted by itself, so
  that no stranger's tries keep the owner out.
"""

from __future__ import annotations

from allauth.core.internal import ratelimit
from allauth.core.internal.ratelimit import RateLimitUsage
from django.http import HttpRequest

from accounts.addresses import normalise
from accounts.models import Person
from oneonone.web.signing_in import devices

APP = "allauth.account"


class TooManyTries(Exception):
    """A rate is used up; ``hour`` tells whether it is one that takes an hour to come back."""

    def __init__(self, *, hour: bool) -> None:
        super().__init__()
        self.hour = hour


def count_try(request: HttpRequest, email: str) -> list[RateLimitUsage]:
    """Count one try of a password for an address; what is returned takes it back. Raises TooManyTries."""
    address = normalise(email)
    if own := _own_place(request, address):
        return [_consume(request, "password_on_device", own, hour=True)]
    origin = ratelimit.get_ip(request)
    return [
        _consume(request, "password_from_origin", None),
        _consume(request, "password_for_address_from_origin", f"{address} {origin}"),
        _consume(request, "password_for_address", address, hour=True),
    ]


def take_back(usages: list[RateLimitUsage]) -> None:
    """The password was right."""
    for usage in usages:
        usage.rollback()


def forget(request: HttpRequest, email: str) -> None:
    """Reset the counter of an address after its owner has verified it."""
    address = normalise(email)
    origin = ratelimit.get_ip(request)
    for action, key in (
        ("password_for_address_from_origin", f"{address} {origin}"),
        ("password_for_address", address),
    ):
        ratelimit.clear(request, app=APP, action=action, key=key)


def _own_place(request: HttpRequest, address: str) -> str | None:
    """What the tries of an address's owner are counted by where they are known, else None."""
    device = devices.device_of(request)
    reader = getattr(request, "user", None)
    if device is None and not isinstance(reader, Person):
        return None
    owner = Person.objects.with_address(address).first()
    if owner is None:
        return None
    if device is not None and device.knows(owner):
        return f"device {device.name} {owner.pk}"
    return f"signed in {owner.pk}" if reader == owner else None


def _consume(request: HttpRequest, action: str, key: str | None, *, hour: bool = False) -> RateLimitUsage:
    usage = ratelimit.consume(request, app=APP, action=action, key=key)
    if usage is None:
        raise TooManyTries(hour=hour)
    return usage
