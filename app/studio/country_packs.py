"""The country packs as shipped: proposals, each value with its source or "check locally"."""

from app.studio.country_parts import CHECK_LOCALLY, MEMORY, ConsentLine, CountryPack
from app.studio.country_regions import AUSTRALIA, CANADA, UNITED_KINGDOM, UNITED_STATES

_EMOTIONAL_SUPPORT = (
    f"harmonised European number for emotional support, Commission Decision 2007/116/EC as amended; {MEMORY}"
)
LABEL_LINE = ConsentLine(
    "Before the work I was given what the labels of the pigments say.",
    "Regulation (EC) 1907/2006 (REACH) Annex XVII entry 75, added by Regulation (EU) 2020/2081",
)

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
    emergency_source="public emergency number (112 works too); from memory, unchecked",
    crisis_line="116 123 (emotional support, free, day and night)",
    crisis_source=_EMOTIONAL_SUPPORT,
    retention_source="UK health records: 8 years after the last entry, children until 25; insurers ask for less",
    reaction_report_place="The environmental health team of your council, check locally; the maker named on the label",
    reaction_report_source=CHECK_LOCALLY,
    required_consent_lines=(
        ConsentLine("I am 18 years old or older.", "Tattooing of Minors Act 1969 (Great Britain)"),
    ),
    consent_note="Council byelaws and licence conditions may ask for more. Check locally.",
    regions=UNITED_KINGDOM,
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
    crisis_source=_EMOTIONAL_SUPPORT,
    reaction_report_place="The maker or importer named on the label; your health authority, check locally",
    reaction_report_source=CHECK_LOCALLY,
    required_consent_lines=(LABEL_LINE,),
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
    emergency_source="public emergency number; from memory, unchecked",
    crisis_line="988 (call or text, day and night)",
    crisis_source="National Suicide Hotline Designation Act of 2020; from memory, unchecked",
    retention_source="proposal; states and counties ask for 2 to 3 years or more, check locally",
    reaction_report_place="The maker or importer named on the label, who must tell the FDA within 15 business days; "
    "you are the first to know. Your health department may ask for a report too: check locally",
    reaction_report_days=15,
    reaction_report_source="Modernization of Cosmetics Regulation Act of 2022: 15 business days, counted for the "
    "responsible person",
    required_consent_lines=(
        ConsentLine("I am 18 years old or older. I have had no alcohol and no drugs today.",
                    "US state and county codes (attestation); check locally"),
        ConsentLine("I know that this is permanent. Taking it out needs an operation or a medical treatment, and that "
                    "may leave a scar.", "US state and county codes; check locally"),
        ConsentLine("I know that work on the skin can cause an infection, an allergy, raised scars, a change of "
                    "colour, a nerve injury or a fever, and that it can make a skin cancer harder to see.",
                    "US county codes; check locally"),
        ConsentLine("I was told how to care for my skin and when to see a doctor, and I was given it in writing.",
                    "US county codes; check locally"),
        ConsentLine("I was told how to reach the health department.", "some US places; check locally"),
    ),
    consent_note="States, counties and cities set their own consent text. Check locally.",
    regions=UNITED_STATES,
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
    crisis_source=_EMOTIONAL_SUPPORT,
    reaction_report_place="The maker or importer named on the label; your health authority, check locally",
    reaction_report_source=CHECK_LOCALLY,
    required_consent_lines=(LABEL_LINE,),
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
    crisis_source="French national number for suicide prevention; from memory, unchecked",
    reaction_report_place="The health-products authority named in the public health code; check locally where",
    reaction_report_days=0,
    reaction_report_source="Code de la santé publique, article R. 513-10-11: professionals report serious reactions "
    "without delay",
    required_consent_lines=(
        LABEL_LINE,
        ConsentLine("I was told in writing, before the work, about its risks and how to care for my skin.",
                    "Code de la santé publique: information in writing; article from memory, unchecked"),
        ConsentLine("A serious reaction will be reported to the health authority without delay.",
                    "Code de la santé publique, article R. 513-10-11"),
    ),
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
    crisis_source="Spanish Ministry of Health, line for suicidal behaviour; from memory, unchecked",
    reaction_report_place="The maker or importer named on the label; your health authority, check locally",
    reaction_report_source=CHECK_LOCALLY,
    required_consent_lines=(LABEL_LINE,),
    consent_note="The autonomous communities set their own consent text. Check locally.",
)
CA = CountryPack(
    code="CA",
    name="Canada",
    minimum_age=18,
    consent_age=18,
    age_rule="Treated as 18 and over. The rule differs from province to province.",
    age_source="rules of the provinces; check locally",
    parent_consent="Some provinces allow a minor with a parent's consent, some do not. Check yours.",
    emergency_number="911",
    emergency_source=f"public emergency number; {MEMORY}",
    crisis_line="988 (call or text, day and night)",
    crisis_source=f"national line for suicide crisis; {MEMORY}",
    retention_source="proposal; Toronto asks for 3 years, the last year of them on the premises; check locally",
    reaction_report_place="The maker or importer named on the label; your public health unit, check locally",
    consent_note="Provinces and public health units set their own consent text. Check locally.",
    regions=CANADA,
)
AU = CountryPack(
    code="AU",
    name="Australia",
    minimum_age=18,
    consent_age=18,
    age_rule="Treated as 18 and over. The rule differs from state to state.",
    age_source="law of the states and territories; check locally",
    parent_consent="Check your state before relying on a parent's consent.",
    emergency_number="000",
    emergency_source=f"public emergency number; {MEMORY}",
    crisis_line="13 11 14 (day and night)",
    crisis_source=f"national crisis line; {MEMORY}",
    retention_source="proposal; one state asks for a log of procedures for 3 years; check locally",
    reaction_report_place="The maker or importer named on the label; your state's health department, check locally",
    consent_note="States and territories set their own consent text. Check locally.",
    regions=AUSTRALIA,
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
