"""The engines of a test run start on ports of their own, for an ordinary role, and leave nothing behind."""

from pathlib import Path

import psycopg
import pytest
import redis

from tests.engines import throwaway

pytestmark = pytest.mark.services


def test_both_answer_and_are_gone_afterwards() -> None:
    with throwaway.both() as urls:
        with psycopg.connect(urls.database) as connection:
            row = connection.execute(
                "SELECT rolsuper, rolbypassrls, rolcreatedb FROM pg_roles WHERE rolname = current_user"
            ).fetchone()
        assert row == (False, False, True)
        with redis.Redis.from_url(urls.redis) as client:
            assert client.ping()
    with pytest.raises(psycopg.OperationalError):
        psycopg.connect(urls.database, connect_timeout=2)
    with redis.Redis.from_url(urls.redis) as client, pytest.raises(redis.ConnectionError):
        client.ping()


def test_the_shell_is_told_where_they_are(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = (
        Path("/tmp") / f"oneonone-{tmp_path.name}"
    )  # short: sockets lie in it, and their paths are limited
    assert throwaway.main(["start", str(folder)]) == 0
    try:
        database, broker = capsys.readouterr().out.splitlines()
        assert database.startswith("export DATABASE_URL=postgresql://oneonone@127.0.0.1:")
        assert broker.startswith("export REDIS_URL=redis://127.0.0.1:")
    finally:
        assert throwaway.main(["stop", str(folder)]) == 0
    assert not folder.exists()
