"""Every policy lets in whom it names and answers the rest as it says; each guard has a twin that is off."""

from __future__ import annotations

import datetime as dt
from typing import Any
from uuid import UUID

import pytest
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import ImproperlyConfigured, PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.test import RequestFactory

from accounts.models import Person
from oneonone.web import policy
from oneonone.web.policy import ADMINISTRATOR, LEAD, LINE_SIDE, PUBLIC, SIGNED_IN, Page, PersonRequest, view
from tests.cast import assert_same_bytes, body_of

ROW = UUID("0a1b2c3d-0000-4000-8000-000000000001")


def answer(request: PersonRequest, *rows: object, **ids: object) -> HttpResponse:
    name = request.person.name if request.person else "nobody"
    return HttpResponse(f"{name} at {request.now:%H:%M} with {rows}{ids}")


def ask(
    page: Page, person: Person | None, method: str = "GET", *, path: str = "/x/", **ids: Any
) -> HttpResponseBase:
    request: HttpRequest = RequestFactory().generic(method, path)
    request.user = person or AnonymousUser()
    return page(request, **ids)


def hidden(person: Person, row_id: UUID) -> object:
    raise Http404


def not_theirs(person: Person, row_id: UUID) -> object:
    raise PermissionDenied


def test_a_public_page_is_for_anybody(held_clock: dt.datetime, outsider: Person) -> None:
    page = view(policy=PUBLIC)(answer)
    assert body_of(ask(page, None)) == "nobody at 10:00 with (){}"
    assert body_of(ask(page, outsider)) == "Bea Moreau at 10:00 with (){}"


def test_a_page_for_the_signed_in_sends_others_to_sign_in_and_back(outsider: Person) -> None:
    page = view(policy=SIGNED_IN, methods=("GET", "POST"))(answer)
    assert ask(page, outsider).status_code == 200
    sent = ask(page, None, path="/one-on-ones/?page=2")
    assert (sent.status_code, sent["Location"]) == (302, "/account/login/?next=%2Fone-on-ones%2F%3Fpage%3D2")


def test_an_act_is_not_repeated_after_signing_in() -> None:
    page = view(policy=SIGNED_IN, methods=("POST",))(answer)
    assert ask(page, None, "POST")["Location"] == "/account/login/"


def test_a_partial_request_is_sent_to_sign_in_as_a_whole_page() -> None:
    page = view(policy=SIGNED_IN)(answer)
    request = RequestFactory().get("/x/", headers={"HX-Request": "true"})
    request.user = AnonymousUser()
    sent = page(request)
    assert (sent.status_code, sent["HX-Redirect"]) == (401, "/account/login/")


def test_a_page_for_administrators_does_not_exist_for_others(
    administrator: Person, outsider: Person, staff: Person, superuser: Person
) -> None:
    page = view(policy=ADMINISTRATOR)(answer)
    assert ask(page, administrator).status_code == 200
    assert ask(page, None).status_code == 302
    for person in (outsider, staff, superuser):
        assert_same_bytes(ask(page, person), policy.missing_page(HttpRequest()))
    guard_off = view(policy=SIGNED_IN)(answer)
    assert ask(guard_off, outsider).status_code == 200


@pytest.mark.parametrize("rule", [LINE_SIDE, LEAD])
def test_a_policy_about_rows_needs_a_door(rule: policy.Policy) -> None:
    with pytest.raises(ImproperlyConfigured):
        view(policy=rule)


@pytest.mark.parametrize("rule", [LINE_SIDE, LEAD])
def test_the_view_gets_the_row_and_not_the_id(rule: policy.Policy, outsider: Person) -> None:
    page = view(policy=rule, door=lambda person, row_id: f"row of {person.name}")(answer)
    assert "with ('row of Bea Moreau',){}" in body_of(ask(page, outsider, row_id=ROW))
    assert ask(page, None, row_id=ROW).status_code == 302


def test_hidden_and_missing_are_the_same_page(outsider: Person) -> None:
    def missing(request: PersonRequest) -> HttpResponse:
        raise Http404("no row 17 of Ines Okafor")

    by_door = ask(view(policy=LINE_SIDE, door=hidden)(answer), outsider, row_id=ROW)
    by_view = ask(view(policy=SIGNED_IN)(missing), outsider)
    assert by_door.status_code == 404
    assert_same_bytes(by_door, by_view)
    guard_off = view(policy=LINE_SIDE, door=lambda person, row_id: "row")(answer)
    assert ask(guard_off, outsider, row_id=ROW).status_code == 200


def test_visible_and_not_theirs_is_another_page(outsider: Person) -> None:
    refused = ask(view(policy=LINE_SIDE, door=not_theirs)(answer), outsider, row_id=ROW)
    assert refused.status_code == 403


@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE"])
def test_a_method_not_declared_is_refused_before_anything_else(method: str, outsider: Person) -> None:
    page = view(policy=SIGNED_IN)(answer)
    for person in (outsider, None):
        refused = ask(page, person, method)
        assert (refused.status_code, refused["Allow"]) == (405, "GET, HEAD")


def test_head_comes_with_get_and_an_act_answers_neither(outsider: Person) -> None:
    assert ask(view(policy=SIGNED_IN)(answer), outsider, "HEAD").status_code == 200
    act = view(policy=SIGNED_IN, methods=("POST",))(answer)
    assert ask(act, outsider, "POST").status_code == 200
    assert [ask(act, outsider, method).status_code for method in ("GET", "HEAD")] == [405, 405]


def test_no_answer_is_kept_by_a_cache(outsider: Person) -> None:
    answers = [
        ask(view(policy=PUBLIC)(answer), None),
        ask(view(policy=SIGNED_IN)(answer), outsider),
        ask(view(policy=SIGNED_IN)(answer), None),
        ask(view(policy=SIGNED_IN)(answer), outsider, "DELETE"),
        ask(view(policy=LINE_SIDE, door=hidden)(answer), outsider, row_id=ROW),
    ]
    assert {given["Cache-Control"] for given in answers} == {"no-store"}


def test_a_page_tells_its_policy_and_methods() -> None:
    page = view(policy=ADMINISTRATOR, methods=("GET", "POST"))(answer)
    assert (page.policy, page.methods, page.login_required) == (ADMINISTRATOR, ("GET", "POST"), False)
