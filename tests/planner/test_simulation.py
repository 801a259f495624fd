"""The simulation that ships runs, repeats itself, and prints what it assumes."""

import pytest

from oneonone.planner.simulation import WAYS, compare, main


def test_the_same_seed_gives_the_same_figures() -> None:
    assert compare(1.6, 1.0, 5, 3) == compare(1.6, 1.0, 5, 3)


def test_when_the_meeting_overruns_the_rule_reaches_more_of_what_is_first_than_any_other_way() -> None:
    found = compare(1.6, 1.3, 40, 1)
    assert set(found) == set(WAYS)
    first = {name: shares[0] for name, shares in found.items()}
    assert all(first["the rule"] > share + 0.2 for name, share in first.items() if name != "the rule")
    assert all(0 < share <= 1 for shares in found.values() for share in shares)


def test_assumptions_and_table_are_printed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--draws", "2"]) == 0
    text = capsys.readouterr().out
    assert "Assumed, not fitted to any meeting" in text
    assert all(name in text for name in WAYS)
    assert "2 agendas a column, seed 1" in text


def test_no_draws_are_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["--draws", "0"])
    assert "a whole number from 1" in capsys.readouterr().err
