"""The numbers of the shipped rules against what was published or is common in the trade.

The table is typed from the project's collected trade facts (screening rows 1 to 79), not from the rules, so that a slip
in either shows. Sources: Tattooing of Minors Act 1969 (Great Britain), section 1: nobody under 18; Code de la santé
publique R. 1311-11 (France); US FDA warnings on skin-numbing products, 2007, 2009, March 2024 (4 % lidocaine); Adv
Skin Wound Care 2019 (raised scars); Toronto Public Health (15 cm); JAMA Facial Plast Surg 2017 (surgeons noticed 2 of
43); J Magn Reson Imaging 2002 (2 of 135); the rest common practice, marked so in each rule.
"""

from datetime import date

import pytest

from app.intake.dates import birthday
from app.intake.rule_set import PREPARATION, RULE_SET
from app.intake.screening import screen
from app.studio.country import FR, GB, PACKS
from tests.intake.healthy import healthy

# rule: (row of the trade facts, default length, source tags that the row gives)
LENGTHS = {
    "scar_age": (1, "12 months", "CP"),
    "burn_age": (3, "18 months", "CP"),
    "graft_age": (4, "12 months", "CP"),
    "keloid_history_spot": (7, "12 weeks", "M"),
    "radiotherapy_wait": (12, "12 months", "PB"),
    "herpes_now": (14, "14 days", "M"),
    "shingles_vaccine": (15, "1 month", "CP"),
    "sun": (16, "4 weeks", "CP"),
    "self_tan": (17, "2 weeks", "CP"),
    "psoriasis": (20, "3 months", "P"),
    "eczema": (21, "1 month", "P"),
    "vitiligo_wait": (22, "12 months", "P"),
    "dark_marks": (26, "12 weeks", "CP"),
    "cancer_before_wait": (42, "6 months", "PB"),
    "ill": (46, "7 days", "M"),
    "antibiotics": (47, "7 days", "CP"),
    "vaccinated": (48, "14 days", "CP"),
    "self_harm": (51, "12 months", "CP"),
    "isotretinoin": (54, "12 months", "P"),
    "retinoid_cream": (55, "14 days", "CP"),
    "steroid_cream": (57, "4 weeks", "M"),
    "after_steroid_injection": (58, "12 weeks", "M"),
    "after_botulinum": (62, "2 weeks", "CP"),
    "after_filler": (63, "4 weeks", "CP"),
    "after_laser": (64, "8 weeks", "CP"),
    "after_peel": (65, "8 weeks", "CP"),
    "after_needling": (66, "6 weeks", "CP"),
    "after_fat_transfer": (67, "12 weeks", "CP"),
    "operated": (68, "12 months", "CP"),
    "after_tattoo_removal": (70, "8 weeks", "CP"),
    "metal_allergy": (74, "2 days", "LAW"),  # 24 h seen, 48 h asked by insurers: the cautious one.
    "hair_dye_reaction": (75, "2 days", "M"),
}
# Not rows with a default of their own: the spot's time to heal, 4 to 6 weeks, and the watch that goes with row 26.
OTHER_LENGTHS = {"thin_skin": "6 weeks", "dark_rim": "12 weeks"}

# row: the consequences that the trade facts give it (stop, wait, test, caution, talk, legal bar)
NO_LENGTH = {
    "keloid_here": (6, "stop_until_proof"),
    "skin_cancer": (11, "stop_until_proof"),
    "sarcoidosis": (23, "stop_until_proof"),
    "pregnant": (28, "stop_until_proof"),
    "diabetes": (31, "stop_until_proof"),
    "blood_thinner": (32, "stop_until_proof"),
    "blood_infection": (40, "stop_until_proof"),
    "fainting": (49, "caution"),
    "hopes_gone": (50, "talk"),
    "under_age": (53, "legal_bar"),
    "light_medicine": (60, "caution"),
    "future_laser": (71, "caution"),
    "mri_due": (72, "caution"),
    "latex_allergy": (76, "caution"),
    "numbing_reaction": (77, "caution"),
}


@pytest.mark.parametrize("rule_id", LENGTHS)
def test_the_length_of_a_wait_is_the_default_of_its_row(rule_id: str) -> None:
    row, length, tag = LENGTHS[rule_id]
    rule = RULE_SET.rule(rule_id)
    assert rule.wait is not None
    assert rule.wait.words == length
    assert row in rule.facts_rows
    assert tag in rule.source_tags


def test_no_length_stands_in_a_rule_unchecked() -> None:
    timed = {rule.id: rule.wait.words for rule in RULE_SET.rules if rule.wait is not None}
    assert timed == {rule_id: length for rule_id, (_, length, _) in LENGTHS.items()} | OTHER_LENGTHS


@pytest.mark.parametrize("rule_id", NO_LENGTH)
def test_the_consequence_is_that_of_its_row(rule_id: str) -> None:
    row, consequence = NO_LENGTH[rule_id]
    rule = RULE_SET.rule(rule_id)
    assert (row in rule.facts_rows, rule.consequence) == (True, consequence)


def test_a_letter_may_shorten_isotretinoin_to_the_six_months_of_the_drug_insert() -> None:
    floor = RULE_SET.rule("isotretinoin").floor
    assert floor is not None
    assert floor.words == "6 months"


def test_great_britain_bars_under_18_whatever_a_parent_says() -> None:
    # Tattooing of Minors Act 1969, section 1: an offence to tattoo a person under the age of eighteen.
    assert (GB.minimum_age, GB.consent_age) == (18, 18)
    assert "Tattooing of Minors Act 1969" in GB.age_source
    born = date(2009, 6, 1)
    day_before = date(2027, 5, 31)
    assert birthday(born, 18) == date(2027, 6, 1)
    assert screen(healthy(born_on=born.isoformat()), on=day_before, country=GB).person_grade == "none"
    assert screen(healthy(born_on=born.isoformat()), on=date(2027, 6, 1), country=GB).person_grade == "full"


def test_france_asks_for_written_consent_under_18() -> None:
    assert (FR.minimum_age, FR.consent_age) == (None, 18)
    assert "1311-11" in FR.age_source


def test_numbing_is_cautioned_above_the_fda_limit_everywhere() -> None:
    assert {pack.lidocaine_limit_percent for pack in PACKS} == {4.0}


def test_published_figures_are_quoted_as_published() -> None:
    raised = RULE_SET.rule("scar_raised")
    assert all(figure in raised.reason for figure in ("22.5", "34.6", "35.8"))
    assert "15 cm" in RULE_SET.rule("open_skin").reason
    assert "2 of 43" in RULE_SET.rule("hopes_gone").reason
    assert "2 of 135" in RULE_SET.rule("mri_due").reason


def test_minor_habits_are_advice_and_no_findings() -> None:
    advice = {row for item in PREPARATION for row in item.facts_rows}
    assert advice == {33, 52, 61, 69, 73}
    assert not advice & {row for rule in RULE_SET.rules for row in rule.facts_rows}
