"""Zones and countries to choose from."""

from __future__ import annotations

import zoneinfo

from accounts import places


def test_every_zone_offered_exists_and_oddities_are_left_out() -> None:
    assert {"Europe/London", "Asia/Kathmandu", "UTC"} <= places.zones()
    assert not places.zones() & {"Factory", "localtime"}
    for zone in places.zones():
        zoneinfo.ZoneInfo(zone)


def test_zone_names_fit_their_column() -> None:
    assert max(map(len, places.zones())) <= 64


def test_every_country_offered_has_a_two_letter_code_and_one_name() -> None:
    names = dict(places.country_names())
    assert set(names) == set(places.countries())
    assert len(set(names.values())) == len(names)
    assert all(len(code) == 2 and code.isupper() for code in names)
    assert (names["GB"], names["CI"], names["TT"]) == (
        "United Kingdom",
        "Côte d'Ivoire",
        "Trinidad and Tobago",
    )
    assert list(names.values()) == sorted(names.values())


def test_parts_of_a_country_have_names_and_codes_that_fit() -> None:
    assert dict(places.subdivision_names("GB")) == {
        "ENG": "England",
        "NIR": "Northern Ireland",
        "SCT": "Scotland",
        "WLS": "Wales",
    }
    assert places.subdivision_names("XX") == ()
    assert max(len(code) for parts in places.countries().values() for code in parts) <= 20
    for country in places.countries():
        assert {code for code, _ in places.subdivision_names(country)} == places.countries()[country]
