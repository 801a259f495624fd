"""Names show what they say."""

from __future__ import annotations

import pytest

from accounts import names


@pytest.mark.parametrize(
    ("typed", "stored"),
    [
        ("  Marta Okafor ", "Marta Okafor"),
        ("Zoe\u0301", "Zo\u00e9"),
        ("O'Brien-Núñez", "O'Brien-Núñez"),
        (
            "\u0646\u0648\u0631\u06cc\u200c\u0632\u0627\u062f",
            "\u0646\u0648\u0631\u06cc\u200c\u0632\u0627\u062f",
        ),
        ("山田太郎", "山田太郎"),
        ("x" * 120, "x" * 120),
    ],
)
def test_a_name_of_any_script_is_kept(typed: str, stored: str) -> None:
    assert names.clean(typed) == stored


@pytest.mark.parametrize(
    "typed",
    [
        pytest.param("", id="empty"),
        pytest.param(" \t ", id="only space"),
        pytest.param("\u200d", id="only a joiner"),
        pytest.param("x" * 121, id="too long"),
        pytest.param("Marta\nBcc: all@alderquay.example", id="a line break"),
        pytest.param("Ma\rrta", id="a carriage return"),
        pytest.param("Mar\0ta", id="a control character"),
        pytest.param("Mar\u202eatra", id="a direction override"),
        pytest.param("Mar\u2066ta", id="a direction isolate"),
        pytest.param("Mar\u2028ta", id="a line separator"),
        pytest.param("Mar\ud800ta", id="half a character"),
    ],
)
def test_a_name_that_does_not_show_is_refused(typed: str) -> None:
    with pytest.raises(names.NameRefused) as caught:
        names.clean(typed)
    assert caught.value.field == "name"
    assert "1 to 120" in str(caught.value)
