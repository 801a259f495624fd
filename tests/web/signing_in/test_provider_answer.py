"""An answer of an OpenID Connect provider: to this request, and about one person."""

from __future__ import annotations

from typing import Any

import pytest

from oneonone.web.signing_in import provider_answer

NONCE = "cwpn0N7v5v0PzCYw"
TOKEN = {"sub": "s-nora", "nonce": NONCE}


@pytest.mark.parametrize("claims", [{"id_token": TOKEN}, {"id_token": TOKEN, "userinfo": {"sub": "s-nora"}}])
def test_the_answer_to_this_request_is_taken(claims: dict[str, Any]) -> None:
    provider_answer.check(claims, NONCE)


@pytest.mark.parametrize(
    ("claims", "nonce"),
    [
        ({"id_token": TOKEN}, "another"),
        ({"id_token": TOKEN}, ""),
        ({"id_token": TOKEN}, None),
        ({"id_token": {"sub": "s-nora"}}, NONCE),
        ({"id_token": {"sub": "s-nora"}}, None),
        ({"id_token": {"sub": "s-nora", "nonce": ""}}, ""),
        ({"id_token": {"sub": "s-nora", "nonce": [NONCE]}}, NONCE),
        ({"id_token": {"sub": "s-nora", "nonce": "é"}}, NONCE),
        ({"id_token": {"nonce": NONCE}}, NONCE),
        ({"id_token": None}, NONCE),
        ({"userinfo": {"sub": "s-nora", "nonce": NONCE}}, NONCE),
        ({}, NONCE),
        ({"id_token": TOKEN, "userinfo": {"sub": "s-jon"}}, NONCE),
        ({"id_token": TOKEN, "userinfo": {}}, NONCE),
    ],
)
def test_any_other_is_refused(claims: dict[str, Any], nonce: Any) -> None:
    with pytest.raises(provider_answer.ForeignAnswer):
        provider_answer.check(claims, nonce)
