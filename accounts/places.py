"""The time zones and the countries with public holidays that a person can choose from."""

from __future__ import annotations

import functools
import zoneinfo
from collections.abc import Mapping

import holidays
from holidays import registry

# Names that some systems add to the IANA zones. They have no meaning on another machine.
NOT_PLACES = frozenset({"Factory", "localtime"})
IRREGULAR_NAMES = {
    "aland_islands": "Åland Islands",
    "bonaire_sint_eustatius_and_saba": "Bonaire, Sint Eustatius and Saba",
    "curacao": "Curaçao",
    "dr_congo": "Congo, Democratic Republic of the",
    "guinea_bissau": "Guinea-Bissau",
    "hongkong": "Hong Kong",
    "isle_of_man": "Isle of Man",
    "ivory_coast": "Côte d'Ivoire",
    "reunion": "Réunion",
    "saint_barthelemy": "Saint Barthélemy",
    "saint_helena_ascension_and_tristan_da_cunha": "Saint Helena, Ascension and Tristan da Cunha",
    "sao_tome_and_principe": "São Tomé and Príncipe",
    "syrian_arab_republic": "Syria",
    "timor_leste": "Timor-Leste",
    "turkey": "Türkiye",
}


@functools.cache
def zones() -> frozenset[str]:
    """The names of the IANA time zone database, as this machine knows them."""
    return frozenset(zoneinfo.available_timezones() - NOT_PLACES)


@functools.cache
def countries() -> Mapping[str, frozenset[str]]:
    """ISO 3166-1 alpha-2 codes of countries whose public holidays are known, with codes of their parts."""
    known = holidays.list_supported_countries(include_aliases=False)
    return {country: frozenset(parts) for country, parts in known.items()}


@functools.cache
def country_names() -> tuple[tuple[str, str], ...]:
    """Code and English name of each country, by name: for a list to choose from."""
    known = countries()
    named = {entity[1]: _spoken(module) for module, entity in registry.COUNTRIES.items()}
    return tuple(sorted(((code, named[code]) for code in known), key=lambda pair: pair[1]))


def subdivision_names(country: str) -> tuple[tuple[str, str], ...]:
    """Code and name of each part of the country, by name; a part without a name goes by its code."""
    parts = countries().get(country, frozenset())
    aliases = getattr(getattr(holidays, country), "subdivisions_aliases", {}) if parts else {}
    named = {code: name for name, code in reversed(aliases.items())}
    return tuple(sorted(((code, named.get(code, code)) for code in parts), key=lambda pair: pair[1]))


def _spoken(module: str) -> str:
    """A country's name from the name of its module in the library, which has no other list of names."""
    if module in IRREGULAR_NAMES:
        return IRREGULAR_NAMES[module]
    return " ".join(word if word in {"and", "the"} else word.capitalize() for word in module.split("_"))
