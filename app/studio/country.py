"""Country packs: what differs from country to country, each value with its source or "check locally".

A pack proposes; it is not legal advice. The owner checks each value where the studio works. `minimum_age` is the age
below which nobody is treated, whoever agrees (a legal bar, or treated as one where the law is unclear); `consent_age`
is the age from which a person's own signature is enough.
"""

from dataclasses import dataclass

CHECK_LOCALLY = "check locally"
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
class CountryPack:
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
    last_reviewed: str = LAST_REVIEWED


GB = CountryPack(
    code="GB",
    name="United Kingdom",
    minimum_age=18,
    consent_age=18,
    age_rule="Nobody under 18 may be tattooed, even with a parent's consent; the only exception is for medical "
    "reasons, by a registered doctor or under a doctor's direction.",
    age_source="Tattooing of Minors Act 1969 (Great Britain); Northern Ireland has its own order, check locally",
    parent_consent="A parent's consent does not change this.",
    emergency_number="999",
    emergency_source="public emergency number (112 works too)",
    crisis_line="116 123 (emotional support, free, day and night)",
    crisis_source="harmonised European number for emotional support, Commission Decision 2007/116/EC as amended",
    retention_source="UK health records: 8 years after the last entry, children until 25; insurers ask for less",
)
IE = CountryPack(
    code="IE",
    name="Ireland",
    minimum_age=18,
    consent_age=18,
    age_rule="Treated as 18 and over. No age limit in statute is known to us.",
    age_source="common practice, no source; check locally",
    parent_consent="Check locally before relying on a parent's consent.",
    emergency_number="112",
    emergency_source="European emergency number, Directive (EU) 2018/1972 article 109 (999 works too)",
    crisis_line="116 123 (emotional support, free, day and night)",
    crisis_source="harmonised European number for emotional support, Commission Decision 2007/116/EC as amended",
)
US = CountryPack(
    code="US",
    name="United States",
    minimum_age=18,
    consent_age=18,
    age_rule="Treated as 18 and over. The rule differs from state to state, and some counties add their own.",
    age_source="state law; check locally",
    parent_consent="Some states allow a minor with a parent's consent, some do not. Check your state.",
    emergency_number="911",
    emergency_source="public emergency number",
    crisis_line="988 (call or text, day and night)",
    crisis_source="National Suicide Hotline Designation Act of 2020",
    retention_source="proposal; states and counties ask for 2 to 3 years or more, check locally",
)
DE = CountryPack(
    code="DE",
    name="Germany",
    minimum_age=18,
    consent_age=18,
    age_rule="Treated as 18 and over. No age limit for tattooing in statute is known to us; consent rules apply.",
    age_source="common practice, no source; check locally",
    parent_consent="Check locally before relying on a parent's consent.",
    emergency_number="112",
    emergency_source="European emergency number, Directive (EU) 2018/1972 article 109",
    crisis_line="116 123 (emotional support, free, day and night)",
    crisis_source="harmonised European number for emotional support, Commission Decision 2007/116/EC as amended",
)
FR = CountryPack(
    code="FR",
    name="France",
    minimum_age=None,
    consent_age=18,
    age_rule="Under 18 only with the written consent of a person who holds parental authority or a guardian; "
    "the studio must be able to show it for 3 years.",
    age_source="Code de la santé publique, article R. 1311-11",
    parent_consent="Written consent of a holder of parental authority is needed under 18.",
    emergency_number="112",
    emergency_source="European emergency number, Directive (EU) 2018/1972 article 109 (15 reaches the ambulance)",
    crisis_line="3114 (free, day and night)",
    crisis_source="French national number for suicide prevention",
)
ES = CountryPack(
    code="ES",
    name="Spain",
    minimum_age=18,
    consent_age=18,
    age_rule="Treated as 18 and over. The autonomous communities set their own rules for minors.",
    age_source="rules of the autonomous communities; check locally",
    parent_consent="Some communities allow minors with a parent's consent. Check locally.",
    emergency_number="112",
    emergency_source="European emergency number, Directive (EU) 2018/1972 article 109",
    crisis_line="024 (free, day and night)",
    crisis_source="Spanish Ministry of Health, line for suicidal behaviour",
)
OTHER = CountryPack(
    code="OTHER",
    name="Another country",
    minimum_age=18,
    consent_age=18,
    age_rule="Treated as 18 and over until the studio has checked its own law.",
    age_source=CHECK_LOCALLY,
    parent_consent="Check locally before relying on a parent's consent.",
    emergency_number=CHECK_LOCALLY,
    emergency_source=CHECK_LOCALLY,
    crisis_line=CHECK_LOCALLY,
    crisis_source=CHECK_LOCALLY,
)
PACKS: tuple[CountryPack, ...] = (GB, IE, US, DE, FR, ES, OTHER)
_BY_CODE = {pack.code: pack for pack in PACKS}


def country_pack(code: str) -> CountryPack:
    """The pack of a country code; the cautious pack where we have none."""
    return _BY_CODE.get(code.strip().upper(), OTHER)
