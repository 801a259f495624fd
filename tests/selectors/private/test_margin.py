"""Notes as pages get them: their words are for the page alone."""

from __future__ import annotations

from oneonone.selectors.private import margin
from oneonone.web import stale_edits


def test_a_note_keeps_its_words_out_of_its_repr() -> None:
    """The framework's template engine logs whole contexts, at DEBUG, when a variable is missing."""
    note = margin.Note(words="Ask about the crane", unclear=True, revision=2)
    assert "crane" not in f"{note}{note!r}{margin.Margin(meeting=note)!r}"
    assert "revision=2" in repr(note)


def test_two_texts_of_a_note_keep_out_of_their_repr() -> None:
    assert "crane" not in repr(stale_edits.Texts(yours="Ask about the crane", theirs="The crane is booked"))
