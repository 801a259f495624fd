"""The simulation that ships runs, repeats itself, and prints what it assumes."""

import pytest

from oneonone.planner.simulation import WAYS, compare, main


def test_the_same_seed_gives_the_same_figures() -> None:
    assert compare((1.6,), 5, 3) == compare((1.6,), 5, 3)


def test_with_least_useful_minutes_as_stated_the_plan_beats_every_other_way_when_minutes_are_short() -> None:
    parts = compare((2.5,), 20, 1)[2.5]
    assert set(parts) == set(WAYS)
    assert all(parts["plan"] > part for name, part in parts.items() if name != "plan")
    assert all(0 < part < 1 for part in parts.values())


def test_assumptions_and_both_tables_are_printed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--draws", "2"]) == 0
    text = capsys.readouterr().out
    assert "Assumed, not fitted to any meeting" in text
    assert text.count("order of entry") == 2
    assert "2 agendas a load, seed 1" in text


def test_no_draws_are_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["--draws", "0"])
    assert "a whole number from 1" in capsys.readouterr().err
