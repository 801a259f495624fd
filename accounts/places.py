"""The time zones and the countries with public holidays that a person can choose from."""

from __future__ import annotations

import functools
import zoneinfo
from collections.abc import Mapping

import holidays

# Names that some systems ship beside the zones of the IANA database and that say nothing to another machine.
NOT_PLACES = frozenset({"Factory", "localtime"})


@functools.cache
def zones() -> frozenset[str]:
    """The names of the IANA time zone database, as this machine knows them."""
    return frozenset(zoneinfo.available_timezones() - NOT_PLACES)


@functools.cache
def countries() -> Mapping[str, frozenset[str]]:
    """ISO 3166-1 alpha-2 codes of countries whose public holidays are known, with codes of their parts."""
    known = holidays.list_supported_countries(include_aliases=False)
    return {country: frozenset(parts) for country, parts in known.items()}
