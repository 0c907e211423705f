"""Country packs: what differs from country to country, each value with its source or "check locally".

A pack proposes; it is not legal advice. The owner checks each value where the studio works.
"""

from app.studio.country_packs import AU, CA, DE, ES, FR, GB, IE, OTHER, US
from app.studio.country_parts import (
    CHECK_LOCALLY,
    LAST_REVIEWED,
    NOT_LEGAL_ADVICE,
    OTC_LIDOCAINE_LIMIT_PERCENT,
    ConsentLine,
    CountryPack,
    Region,
)

__all__ = [
    "AU", "CA", "CHECK_LOCALLY", "DE", "ES", "FR", "GB", "IE", "LAST_REVIEWED", "NOT_LEGAL_ADVICE",
    "OTC_LIDOCAINE_LIMIT_PERCENT", "OTHER", "PACKS", "US", "ConsentLine", "CountryPack", "Region", "country_pack",
]  # fmt: skip

PACKS: tuple[CountryPack, ...] = (GB, IE, US, DE, FR, ES, CA, AU, OTHER)
_BY_CODE = {pack.code: pack for pack in PACKS}


def country_pack(code: str) -> CountryPack:
    """The pack of a country code; the cautious pack where we have none."""
    return _BY_CODE.get(code.strip().upper(), OTHER)
