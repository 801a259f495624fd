"""Public holidays by country and subdivision, from the `holidays` library."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from functools import lru_cache

from holidays import country_holidays, list_supported_countries

from oneonone.cadence.refusals import UnknownCountry, UnknownSubdivision

ALPHA_2 = 2


@lru_cache(maxsize=1)
def countries() -> dict[str, tuple[str, ...]]:
    """Every accepted country (ISO 3166-1 alpha-2) with its accepted subdivisions."""
    known = list_supported_countries(include_aliases=False)
    return {code: tuple(parts) for code, parts in known.items() if len(code) == ALPHA_2}


@lru_cache(maxsize=1024)
def check_country(country: str | None, subdivision: str | None) -> None:
    """Refuse a country or a part of one whose holidays are not known, naming what is accepted."""
    if country is None:
        if subdivision:
            raise UnknownSubdivision("subdivision", "nothing without a country", subdivision)
        return
    known = countries()
    if country not in known:
        raise UnknownCountry(
            "country", "an ISO 3166-1 code of two capitals: " + ", ".join(sorted(known)), country
        )
    if subdivision and subdivision not in known[country]:
        accepted = ", ".join(known[country]) or "nothing"
        raise UnknownSubdivision("subdivision", f"for {country}: {accepted}", subdivision)


@lru_cache(maxsize=4096)
def holidays_in(country: str, subdivision: str | None, year: int) -> frozenset[date]:
    """The public holidays of one year, days in lieu included. An empty subdivision is the whole country."""
    check_country(country, subdivision or None)
    return frozenset(country_holidays(country, subdiv=subdivision or None, years=year))


def holidays_for(country: str, subdivision: str | None, years: Iterable[int]) -> frozenset[date]:
    """The public holidays of several years, days off in lieu included."""
    return frozenset[date]().union(*(holidays_in(country, subdivision, year) for year in years))
