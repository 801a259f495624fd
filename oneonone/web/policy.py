"""Who may ask what: every page declares a policy, and ``signing_in`` declares those of allauth.

``@view(policy=..., methods=...)`` turns a function into a page. In this order it refuses a method that is not
declared (405), applies the policy, and gives the request two attributes: ``request.person`` and
``request.now``, the one reading of the clock for this request. What is missing and what is hidden get the
same static page, byte for byte.

=================  ============================================================================
policy             who gets in
=================  ============================================================================
``PUBLIC``         anybody; ``request.person`` is ``None`` for somebody not signed in
``SIGNED_IN``      whoever is signed in; others are sent to sign in
``ADMINISTRATOR``  an administrator; to any other signed-in person the page does not exist
``LINE_SIDE``      a side of the line that the row belongs to, as told by ``door``
``LEAD``           whoever leads somebody, as told by ``door``
=================  ============================================================================

``LINE_SIDE`` and ``LEAD`` need a ``door``: a function of ``oneonone.access`` that takes the person and the
ids of the URL and gives the row, or raises ``Http404`` (hidden or missing) or ``PermissionDenied`` (visible,
not theirs to change). The view then receives the row in place of the ids, so that it cannot forget to ask::

    @view(policy=LINE_SIDE, door=access.topic_for_edit, methods=("GET", "POST"))
    def edit(request: PersonRequest, topic: Topic) -> HttpResponse: ...
"""

from __future__ import annotations

import datetime as dt
import functools
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol, cast

from allauth.account.decorators import reauthentication_required
from django.core.exceptions import ImproperlyConfigured, PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, HttpResponseNotAllowed
from django.shortcuts import redirect, resolve_url
from django.template import loader
from django.urls import reverse
from django.utils.http import urlencode

from accounts.models import Person
from oneonone import clock


@dataclass(frozen=True)
class Policy:
    """A rule about who is let in; ``needs_door`` when it depends on a row and not on the person alone."""

    name: str
    signed_in: bool = True
    administrator: bool = False
    needs_door: bool = False


PUBLIC = Policy("public", signed_in=False)
SIGNED_IN = Policy("signed in")
ADMINISTRATOR = Policy("administrator", administrator=True)
LINE_SIDE = Policy("line side", needs_door=True)
LEAD = Policy("lead", needs_door=True)


class PersonRequest(HttpRequest):
    """A request of somebody who is signed in."""

    person: Person
    now: dt.datetime


class PublicRequest(HttpRequest):
    """A request of anybody: ``person`` is ``None`` unless signed in."""

    person: Person | None
    now: dt.datetime


class Page(Protocol):
    """A view that says what it admits: read by the URLconf's checks and by the authorization tests."""

    policy: Policy
    methods: tuple[str, ...]
    login_required: bool

    def __call__(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """Answer the request."""


def view(
    *,
    policy: Policy,
    methods: tuple[str, ...] = ("GET",),
    door: Callable[..., Any] | None = None,
    again: bool = False,
) -> Callable[[Callable[..., HttpResponseBase]], Page]:
    """Make a page of a function. ``HEAD`` comes with ``GET``; ``OPTIONS`` is refused like any other method.

    With ``again`` whoever has not shown lately that it is them does so first, and goes on from there (ASVS
    5.0, 7.5.1). Raises ImproperlyConfigured when a policy about rows comes without a door, so that the fault
    shows at start.
    """
    if policy.needs_door and door is None:
        raise ImproperlyConfigured(f"The policy {policy.name!r} needs a door.")
    allowed = (*methods, "HEAD") if "GET" in methods else methods

    def decorate(function: Callable[..., HttpResponseBase]) -> Page:
        answering = reauthentication_required(function) if again else function

        @functools.wraps(function)
        def page(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if request.method not in allowed:
                return _unstored(HttpResponseNotAllowed(allowed))
            return _unstored(_answer(answering, policy, door, request, args, kwargs))

        declared = cast(Page, page)
        declared.policy = policy
        declared.methods = methods
        declared.login_required = False  # the policy above asks, after the method
        return declared

    return decorate


def _answer(
    function: Callable[..., HttpResponseBase],
    policy: Policy,
    door: Callable[..., Any] | None,
    request: HttpRequest,
    args: tuple[Any, ...],
    kwargs: dict[str, Any],
) -> HttpResponseBase:
    person = request.user if request.user.is_authenticated else None
    if policy.signed_in and person is None:
        return sign_in_first(request)
    if policy.administrator and not (person and person.is_administrator):
        return missing_page(request)
    seen = cast(PublicRequest, request)
    seen.person, seen.now = person, clock.now()
    try:
        if door is not None:
            return function(request, door(person, *args, **kwargs))
        return function(request, *args, **kwargs)
    except Http404:
        return missing_page(request)
    except PermissionDenied:
        return forbidden_page(request)


def _unstored(response: HttpResponseBase) -> HttpResponseBase:
    """Nothing of a page is kept by a browser or by anything between (ASVS 5.0, 14.3.2)."""
    response["Cache-Control"] = "no-store"
    return response


def sign_in_first(request: HttpRequest) -> HttpResponse:
    """Send somebody to sign in, and back here afterwards if that repeats nothing.

    A partial request is told by ``HX-Redirect``: following a redirect in place would paste the sign-in page
    into it.
    """
    target = resolve_url("account_login")
    if request.method in ("GET", "HEAD"):
        target = f"{target}?{urlencode({'next': request.get_full_path()})}"
    if request.headers.get("HX-Request") == "true":
        return HttpResponse(status=401, headers={"HX-Redirect": reverse("account_login")})
    return redirect(target)


def missing_page(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """The one page for what is missing and for what is hidden. It is told nothing of the request."""
    return _static_page("404.html", status=404)


def forbidden_page(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """The one page for what is visible to the person, and not theirs to change."""
    return _static_page("403.html", status=403)


def _static_page(template: str, *, status: int) -> HttpResponse:
    return HttpResponse(
        loader.get_template(template).render(), status=status, headers={"Cache-Control": "no-store"}
    )
