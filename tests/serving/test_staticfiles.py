"""Style and script as they are served: joined, named by their content, compressed, kept for a year."""

from __future__ import annotations

import gzip
import re
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from pytest_django.fixtures import Settings

from accounts.models import Person
from oneonone.serving import staticfiles
from tests.cast import ClientFor, body_of

SOURCES = Path(settings.BASE_DIR) / "oneonone" / "static" / "oneonone"


def test_a_bundle_is_its_sources_in_their_order() -> None:
    for bundle, sources in staticfiles.BUNDLES.items():
        (address,) = staticfiles.addresses(bundle)
        served = Path(settings.STATIC_ROOT) / address.removeprefix("/static/")
        assert served.read_text() == "\n".join((SOURCES / source).read_text() for source in sources)


def test_a_page_asks_for_at_most_three_of_each(client_for: ClientFor, report: Person) -> None:
    page = body_of(client_for(report).get("/"))
    assert 1 <= page.count('rel="stylesheet"') <= 3
    assert 1 <= page.count("<script") <= 3


def test_what_a_page_links_is_compressed_and_kept_for_a_year(client_for: ClientFor, report: Person) -> None:
    client = client_for(report)
    links = re.findall(r'(?:href|src)="(/static/[^"]+)"', body_of(client.get("/")))
    assert links
    for link in links:
        answer = client.get(link, headers={"accept-encoding": "gzip"})
        assert answer.status_code == 200
        assert answer["Content-Encoding"] == "gzip"
        assert gzip.decompress(b"".join(answer.streaming_content))  # type: ignore[attr-defined]
        age = re.search(r"max-age=(\d+)", answer["Cache-Control"])
        assert age is not None
        assert int(age[1]) >= 365 * 24 * 3600
        assert "immutable" in answer["Cache-Control"]


def test_sources_of_a_bundle_are_not_served_beside_it() -> None:
    assert Client().get("/static/oneonone/css/tokens.css").status_code == 404


def test_it_is_written_once_and_again_when_a_source_changes(
    tmp_path: Path, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.STATIC_ROOT = tmp_path / "static"
    written: list[str] = []
    monkeypatch.setattr(staticfiles, "call_command", lambda name, **_options: written.append(name))
    staticfiles.collect()
    staticfiles.collect()
    assert written == ["collectstatic"]
    monkeypatch.setattr(staticfiles, "_digest", lambda: "another")
    staticfiles.collect()
    assert len(written) == 2


def test_a_folder_that_cannot_be_written_is_named(tmp_path: Path, settings: Settings) -> None:
    (tmp_path / "file").write_text("")
    settings.STATIC_ROOT = tmp_path / "file" / "static"
    with pytest.raises(staticfiles.NotWritable, match="ONEONONE_DATA"):
        staticfiles.collect()
