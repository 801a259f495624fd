"""The data folder is made once, holds one kind of data, and belongs to one server at a time."""

import base64
import stat
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from oneonone.serving import datafolder


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_a_new_folder_gets_keys_that_only_its_owner_reads(tmp_path: Path) -> None:
    folder = tmp_path / "new" / "place"
    datafolder.prepare(folder, demo=False)
    assert (mode(folder), mode(folder / "keys")) == (0o700, 0o700)
    assert mode(folder / "keys" / "secret_key") == 0o400
    assert mode(folder / "keys" / "kek") == 0o400
    assert len(base64.urlsafe_b64decode((folder / "keys" / "kek").read_text())) == 32
    assert len((folder / "keys" / "secret_key").read_text().strip()) >= 50


def test_keys_differ_between_folders_and_stay_the_same_in_one(tmp_path: Path) -> None:
    def keys(folder: Path) -> list[str]:
        return [(folder / "keys" / name).read_text() for name in ("secret_key", "kek")]

    datafolder.prepare(tmp_path / "one", demo=False)
    datafolder.prepare(tmp_path / "two", demo=False)
    first = keys(tmp_path / "one")
    datafolder.prepare(tmp_path / "one", demo=False)
    assert keys(tmp_path / "one") == first
    assert not set(first) & set(keys(tmp_path / "two"))


def test_many_first_starts_at_once_agree_on_one_key(tmp_path: Path) -> None:
    def start(_: int) -> str:
        datafolder.prepare(tmp_path, demo=True)
        return (tmp_path / "keys" / "kek").read_text()

    with ThreadPoolExecutor(8) as pool:
        assert len(set(pool.map(start, range(40)))) == 1
    assert sorted(file.name for file in (tmp_path / "keys").iterdir()) == ["kek", "secret_key"]


def test_the_demo_does_not_start_on_real_data(tmp_path: Path) -> None:
    datafolder.prepare(tmp_path, demo=False)
    with pytest.raises(datafolder.FolderRefused, match="holds real data"):
        datafolder.prepare(tmp_path, demo=True)
    assert datafolder.kind(tmp_path) == "real"


def test_real_data_does_not_start_in_the_demos_folder(tmp_path: Path) -> None:
    datafolder.prepare(tmp_path, demo=True)
    with pytest.raises(datafolder.FolderRefused, match="add --demo"):
        datafolder.prepare(tmp_path, demo=False)
    assert datafolder.kind(tmp_path) == "demo"


@pytest.mark.parametrize("word", ["", "production"])
def test_a_folder_whose_mark_is_not_understood_counts_as_real(word: str, tmp_path: Path) -> None:
    (tmp_path / "kind").write_text(word)
    with pytest.raises(datafolder.FolderRefused, match="holds real data"):
        datafolder.prepare(tmp_path, demo=True)


def test_a_folder_with_a_database_and_no_mark_counts_as_real(tmp_path: Path) -> None:
    (tmp_path / "db.sqlite3").touch()
    with pytest.raises(datafolder.FolderRefused, match="holds real data"):
        datafolder.prepare(tmp_path, demo=True)
    assert not (tmp_path / "keys").exists()


def test_a_place_that_is_no_folder_is_refused_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(datafolder.FolderRefused, match="cannot be used as data folder") as refusal:
        datafolder.prepare(tmp_path / "file" / "data", demo=False)
    assert "\n" not in str(refusal.value)


def test_a_second_holder_is_refused_until_the_first_lets_go(tmp_path: Path) -> None:
    datafolder.prepare(tmp_path, demo=False)
    held = datafolder.lock(tmp_path)
    with pytest.raises(datafolder.FolderRefused, match="Another server already runs"):
        datafolder.lock(tmp_path)
    held.close()
    datafolder.lock(tmp_path).close()
