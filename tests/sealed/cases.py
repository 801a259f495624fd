"""What the tests of sealed text share: people, places, keys and payloads."""

from __future__ import annotations

from uuid import UUID

from hypothesis import strategies as st

from oneonone.sealed import DataKey, Secret, Where

MARTA = UUID("0a1b2c3d-0000-4000-8000-000000000001")
JONAS = UUID("0a1b2c3d-0000-4000-8000-000000000002")
NOTE = UUID("5e5e5e5e-0000-4000-8000-00000000000a")
OTHER_NOTE = UUID("5e5e5e5e-0000-4000-8000-00000000000b")
HERE = Where(table="margin_note", row=NOTE, author=MARTA, revision=3)
WORDS = {"words": "Ask about the night crossings.", "kind": "question", "unclear": True, "day": "2026-11-25"}


def data_key(number: int = 1, fill: int = 7) -> DataKey:
    """A fixed key, so that a failure can be repeated."""
    return DataKey(number, Secret(bytes([fill]) * 32))


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)
payloads = st.dictionaries(st.text(), json_values, max_size=6)
