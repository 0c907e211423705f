"""What a country pack is made of: each value with its source or "check locally".

A pack proposes; it is not legal advice. The owner checks each value where the studio works. `minimum_age` is the age
below which nobody is treated, whoever agrees (a legal bar, or treated as one where the law is unclear); `consent_age`
is the age from which a person's own signature is enough.
"""

from dataclasses import dataclass

CHECK_LOCALLY = "check locally"
MEMORY = "from memory, unchecked"
NOT_LEGAL_ADVICE = "This is not legal advice. Your local rules come first: check each value where you work."
LAST_REVIEWED = "2026-11-25"

# US FDA, warnings on skin-numbing products, 2007, 2009 and March 2024: over-the-counter products with more than 4 %
# lidocaine are not permitted; not on large or broken areas, not under a wrapping.
OTC_LIDOCAINE_LIMIT_PERCENT = 4.0
_NUMBING_SOURCE = "US FDA, warnings on skin-numbing products, 2007, 2009, March 2024"
_NUMBING_CAUTION = (
    "Products stronger than 4 % lidocaine can cause fits, breathing trouble and heart rhythm trouble. Do not use them "
    "on large or broken areas and do not wrap them. Check locally what may be sold and used."
)
# Retention of records of adults: 8 years after the last entry (NHS records management code); elsewhere a proposal.
_PROPOSED_RETENTION = "proposal after UK health-record practice; check locally"


@dataclass(frozen=True)
class ConsentLine:
    """A sentence that the treatment consent has to hold in this country; the owner may not take it out."""

    text: str
    source: str


@dataclass(frozen=True)
class Region:
    """A state, province or part of a country with rules of its own; the note says what is known, and no more."""

    code: str
    name: str
    note: str
    source: str


@dataclass(frozen=True)
class CountryPack:
    """`reaction_report_days` is within how many days a serious reaction has to be reported: 0 without delay, None where
    no number is known. `phone_region` is where a number written without a country code belongs."""

    code: str
    name: str
    minimum_age: int | None
    consent_age: int
    age_rule: str
    age_source: str
    parent_consent: str
    emergency_number: str
    emergency_source: str
    crisis_line: str
    crisis_source: str
    retention_years: int = 8
    retention_minor_until_age: int = 25
    retention_source: str = _PROPOSED_RETENTION
    lidocaine_limit_percent: float = OTC_LIDOCAINE_LIMIT_PERCENT
    numbing_caution: str = _NUMBING_CAUTION
    numbing_source: str = _NUMBING_SOURCE
    reaction_report_place: str = CHECK_LOCALLY
    reaction_report_days: int | None = None
    reaction_report_source: str = CHECK_LOCALLY
    required_consent_lines: tuple[ConsentLine, ...] = ()
    consent_note: str = "Your local rules may ask for more than this consent says. Check locally."
    regions: tuple[Region, ...] = ()
    last_reviewed: str = LAST_REVIEWED

    @property
    def phone_region(self) -> str:
        return "" if self.code == "OTHER" else self.code

    def region(self, code: str) -> Region | None:
        return next((region for region in self.regions if region.code == code), None)
