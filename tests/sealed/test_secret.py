"""Keys do not show and do not travel."""

from __future__ import annotations

import copy
import json
import pickle
from typing import Any

import pytest

from oneonone.sealed import DataKey, KeyEncryptionKey, Secret

BYTES = b"0123456789abcdef0123456789abcdef"
HOLDERS = [
    pytest.param(Secret(BYTES), id="secret"),
    pytest.param(DataKey(1, Secret(BYTES)), id="data key"),
    pytest.param(KeyEncryptionKey.of(Secret(BYTES)), id="key-encryption key"),
]


@pytest.mark.parametrize("holder", HOLDERS)
def test_no_way_of_printing_shows_the_bytes(holder: object) -> None:
    for shown in (repr(holder), str(holder), f"{holder}", f"{holder!r:>60}", ascii([holder])):
        assert "0123456789" not in shown
        assert "***" in shown


@pytest.mark.parametrize("holder", HOLDERS)
@pytest.mark.parametrize("protocol", range(pickle.HIGHEST_PROTOCOL + 1))
def test_pickling_is_refused(holder: object, protocol: int) -> None:
    with pytest.raises(TypeError, match="neither pickled nor copied"):
        pickle.dumps(holder, protocol)


@pytest.mark.parametrize("holder", HOLDERS)
def test_deep_copies_and_json_are_refused(holder: Any) -> None:
    with pytest.raises(TypeError):
        copy.deepcopy(holder)
    with pytest.raises(TypeError):
        json.dumps({"key": holder})


def test_only_asking_by_name_gives_the_bytes() -> None:
    secret = Secret(BYTES)
    assert secret.reveal() == BYTES
    assert not hasattr(secret, "__dict__")
    with pytest.raises(TypeError):
        bytes(secret)  # type: ignore[call-overload]


def test_secrets_compare_by_their_bytes_and_do_not_hash() -> None:
    assert Secret(BYTES) == Secret(bytes(BYTES))
    assert Secret(BYTES) != Secret(BYTES[:-1] + b"0")
    assert Secret(BYTES) != BYTES
    with pytest.raises(TypeError):
        hash(Secret(BYTES))
