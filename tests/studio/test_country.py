import pytest

from app.intake.phones import read_phone
from app.studio.country import CHECK_LOCALLY, FR, GB, OTHER, PACKS, US, CountryPack, country_pack


@pytest.mark.parametrize("pack", PACKS, ids=lambda pack: pack.code)
def test_each_value_of_a_pack_has_a_source_or_says_check_locally(pack: CountryPack) -> None:
    for value, source in (
        (pack.age_rule, pack.age_source),
        (pack.emergency_number, pack.emergency_source),
        (pack.crisis_line, pack.crisis_source),
        (str(pack.retention_years), pack.retention_source),
        (pack.numbing_caution, pack.numbing_source),
        (pack.reaction_report_place, pack.reaction_report_source),
        *((line.text, line.source) for line in pack.required_consent_lines),
        *((region.note, region.source) for region in pack.regions),
    ):
        assert value
        assert source
    assert pack.consent_age >= (pack.minimum_age or 0)
    assert pack.required_consent_lines or "Check locally" in pack.consent_note
    assert pack.last_reviewed == "2026-11-25"


@pytest.mark.parametrize("pack", [pack for pack in PACKS if pack is not OTHER], ids=lambda pack: pack.code)
def test_a_crisis_line_that_nobody_checked_says_so(pack: CountryPack) -> None:
    assert "from memory, unchecked" in pack.crisis_source
    assert any(figure.isdigit() for figure in pack.crisis_line)


def test_the_packs_asked_for_are_there() -> None:
    assert [pack.code for pack in PACKS] == ["GB", "IE", "US", "DE", "FR", "ES", "CA", "AU", "OTHER"]


def test_a_country_without_a_pack_gets_the_cautious_one() -> None:
    assert country_pack("zz") is OTHER
    assert country_pack(" gb ") is GB
    assert OTHER.minimum_age == 18
    assert OTHER.emergency_number == OTHER.crisis_line == OTHER.reaction_report_place == CHECK_LOCALLY


def test_only_france_leaves_the_age_to_a_guardian() -> None:
    assert [pack.code for pack in PACKS if pack.minimum_age is None] == [FR.code]


def test_a_serious_reaction_is_reported_as_soon_as_the_law_that_is_known_asks() -> None:
    # Code de la santé publique R. 513-10-11: without delay. MoCRA 2022: 15 business days for the responsible person.
    known = {pack.code: pack.reaction_report_days for pack in PACKS if pack.reaction_report_days is not None}
    assert known == {"FR": 0, "US": 15}
    assert "513-10-11" in FR.reaction_report_source
    assert "business days" in US.reaction_report_place


@pytest.mark.parametrize("code", ["IE", "DE", "FR", "ES"])
def test_where_reach_holds_the_client_confirms_the_label_was_given_before(code: str) -> None:
    lines = country_pack(code).required_consent_lines
    assert any("labels of the pigments" in line.text and "entry 75" in line.source for line in lines)


def test_the_consent_of_the_united_states_holds_what_local_codes_ask_for() -> None:
    words = " ".join(line.text for line in US.required_consent_lines)
    for asked in ("18 years", "no alcohol", "permanent", "leave a scar", "health department", "in writing"):
        assert asked in words


@pytest.mark.parametrize(("code", "count"), [("GB", 4), ("US", 51), ("CA", 13), ("AU", 8), ("FR", 0)])
def test_regions_say_only_what_is_known(code: str, count: int) -> None:
    pack = country_pack(code)
    assert len({region.code for region in pack.regions}) == len(pack.regions) == count
    for region in pack.regions:
        assert region.source != CHECK_LOCALLY or "Check locally" in region.note


def test_the_regions_with_a_known_rule_tell_it() -> None:
    tennessee, texas = US.region("TN"), US.region("TX")
    assert tennessee is not None
    assert "2 years" in tennessee.note
    assert texas is not None
    assert texas.source == CHECK_LOCALLY
    assert US.region("XX") is None


@pytest.mark.parametrize(("code", "typed"), [("GB", "020 7946 0018"), ("US", "202-555-0143"), ("FR", "01 42 68 53 00")])
def test_a_number_without_a_country_code_belongs_to_the_studios_country(code: str, typed: str) -> None:
    assert read_phone(typed, country_pack(code).phone_region).startswith("+")
    assert OTHER.phone_region == ""
