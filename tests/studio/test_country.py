import pytest

from app.studio.country import CHECK_LOCALLY, FR, GB, OTHER, PACKS, CountryPack, country_pack


@pytest.mark.parametrize("pack", PACKS, ids=lambda pack: pack.code)
def test_each_value_of_a_pack_has_a_source_or_says_check_locally(pack: CountryPack) -> None:
    for value, source in (
        (pack.age_rule, pack.age_source),
        (pack.emergency_number, pack.emergency_source),
        (pack.crisis_line, pack.crisis_source),
        (str(pack.retention_years), pack.retention_source),
        (pack.numbing_caution, pack.numbing_source),
    ):
        assert value
        assert source
    assert pack.consent_age >= (pack.minimum_age or 0)


def test_the_packs_asked_for_are_there() -> None:
    assert [pack.code for pack in PACKS] == ["GB", "IE", "US", "DE", "FR", "ES", "OTHER"]


def test_a_country_without_a_pack_gets_the_cautious_one() -> None:
    assert country_pack("zz") is OTHER
    assert country_pack(" gb ") is GB
    assert OTHER.minimum_age == 18
    assert OTHER.emergency_number == OTHER.crisis_line == CHECK_LOCALLY


def test_only_france_leaves_the_age_to_a_guardian() -> None:
    assert [pack.code for pack in PACKS if pack.minimum_age is None] == [FR.code]
