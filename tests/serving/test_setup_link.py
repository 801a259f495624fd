"""The link for the first administrator works once, is not kept in plain, and the last one issued counts."""

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from oneonone.serving import setup_link


def test_it_works_once(tmp_path: Path) -> None:
    token = setup_link.issue(tmp_path)
    assert setup_link.check(tmp_path, token)
    assert setup_link.check(tmp_path, token), "looking uses nothing up"
    assert setup_link.consume(tmp_path, token)
    assert not setup_link.consume(tmp_path, token)
    assert not setup_link.check(tmp_path, token)


def test_of_many_who_hold_it_one_gets_in(tmp_path: Path) -> None:
    token = setup_link.issue(tmp_path)
    with ThreadPoolExecutor(8) as pool:
        got_in = list(pool.map(lambda _: setup_link.consume(tmp_path, token), range(40)))
    assert got_in.count(True) == 1


def test_a_wrong_token_does_not_work_and_spoils_nothing(tmp_path: Path) -> None:
    assert not setup_link.check(tmp_path, "anything")
    token = setup_link.issue(tmp_path)
    assert not setup_link.consume(tmp_path, token[:-1])
    assert not setup_link.consume(tmp_path, "")
    assert setup_link.consume(tmp_path, token)


def test_the_one_issued_last_counts(tmp_path: Path) -> None:
    first, second = setup_link.issue(tmp_path), setup_link.issue(tmp_path)
    assert not setup_link.check(tmp_path, first)
    assert setup_link.check(tmp_path, second)


def test_the_token_lies_nowhere_in_the_folder(tmp_path: Path) -> None:
    token = setup_link.issue(tmp_path)
    files = list(tmp_path.iterdir())
    assert len(files) == 1
    assert all(token not in file.read_text() for file in files)
    assert files[0].stat().st_mode & 0o077 == 0


def test_a_withdrawn_link_does_not_work(tmp_path: Path) -> None:
    token = setup_link.issue(tmp_path)
    setup_link.withdraw(tmp_path)
    setup_link.withdraw(tmp_path)
    assert not setup_link.consume(tmp_path, token)
