"""The shipped rules against what was published or is common in the trade, row by row.

The table is typed from the project's collected trade facts (screening rows 1 to 79), not from the rules, so that a slip
in either shows. Sources: Tattooing of Minors Act 1969 (Great Britain), section 1: nobody under 18; Code de la santé
publique R. 1311-11 (France); US FDA warnings on skin-numbing products, 2007, 2009, March 2024 (4 % lidocaine); Adv
Skin Wound Care 2019 (raised scars); Toronto Public Health (15 cm); JAMA Facial Plast Surg 2017 (surgeons noticed 2 of
43); J Magn Reson Imaging 2002 (2 of 135); the rest common practice, marked so in each rule.
"""

from datetime import date

import pytest

from app.intake.dates import birthday
from app.intake.rule_set import RULE_SET
from app.intake.rules import Rule
from app.intake.screening import screen
from app.studio.country import FR, GB, PACKS
from tests.intake.healthy import healthy

# row: the default of the trade facts, and what each rule of that row does with it.
# "letter": a stop that a clinician's letter lifts; "photos": one that two dated photos lift; "stop": neither does.
ROWS: dict[int, tuple[str, dict[str, str]]] = {
    1: ("12 mo", {"scar_age": "wait 12 months"}),
    2: ("Stable ≥6 mo on two dated photos", {"scar_red": "photos", "scar_itchy": "photos", "scar_changed": "photos"}),
    3: ("18 mo + surgeon letter", {"burn_age": "wait 18 months", "burn_letter": "letter"}),
    4: ("12 mo, 24 if uneven/tight", {"graft_age": "wait 12 months", "graft_tight": "wait 24 months"}),
    5: ("Do not use age alone: need flat + soft + pale",
        {"scar_raised": "photos", "scar_kind_raised": "photos", "scar_firm": "photos"}),
    6: ("STOP", {"keloid_here": "stop"}),
    7: ("LETTER + test spot watched ≥12 wk; STOP on chest, shoulder, upper back, earlobe",
        {"keloid_history_letter": "letter", "keloid_history_spot": "spot 12 weeks", "keloid_history_site": "stop",
         "spot_failed": "letter"}),
    8: ("STOP for rim; TEST for rest", {"dark_rim": "spot 12 weeks", "dark_scar": "letter"}),
    9: ("DEFER, re-photo 3 mo", {"stretch_red": "photos"}),
    10: ("STOP, map on diagram", {"mole": "letter photos"}),
    11: ("STOP", {"skin_cancer": "stop"}),
    12: ("LETTER + 12 mo", {"radiotherapy_wait": "wait 12 months", "radiotherapy_letter": "letter"}),
    13: ("DEFER", {"open_skin": "stop"}),
    14: ("DEFER to fully healed + 14 d (M)", {"herpes_now": "wait 14 days", "herpes_before": "caution"}),
    15: ("1 mo; history → LETTER",
         {"shingles_vaccine": "wait 1 month", "shingles": "letter or decision", "shingles_now": "stop"}),
    16: ("4 wk and back to baseline colour", {"sun": "wait 4 weeks", "tan_left": "photos"}),
    17: ("2 wk", {"self_tan": "wait 2 weeks"}),
    18: ("STOP unless trained; LETTER", {"veins": "letter"}),
    19: ("TEST", {"thin_skin": "spot 6 weeks"}),  # The spot's own time to heal: 4 to 6 weeks.
    20: ("Clear ≥3 mo in the zone + LETTER if systemic drugs",
         {"psoriasis": "wait 3 months", "psoriasis_letter": "letter"}),
    21: ("Clear ≥1 mo in the zone", {"eczema": "wait 1 month"}),
    22: ("12 mo, two dated photo sets, + LETTER",
         {"vitiligo_wait": "wait 12 months", "vitiligo_photos": "photos", "vitiligo_letter": "letter"}),
    23: ("STOP unless LETTER", {"sarcoidosis": "letter"}),
    24: ("LETTER, STOP if active", {"lupus_like": "letter", "lupus_active": "stop"}),
    25: ("DEFER", {"acne": "stop"}),
    26: ("TEST; review at 12 wk not 8", {"dark_marks": "spot 12 weeks", "spot_failed": "letter"}),
    27: ("LETTER", {"poor_healing": "letter"}),
    28: ("STOP", {"pregnant": "stop"}),
    29: ("STOP until ended", {"breastfeeding": "stop"}),
    30: ("Warn + record", {"stretching_ahead": "caution"}),
    31: ("LETTER; ask last HbA1c and date; ≥9 refused",
         {"diabetes": "letter", "diabetes_leg": "caution", "hba1c_high": "letter", "hba1c_between": "caution"}),
    32: ("LETTER", {"blood_thinner": "letter"}),
    33: ("7 d supplements, 3 d NSAID", {"supplements": "advice 7 days", "painkillers": "advice 3 days"}),
    34: ("STOP unless LETTER", {"bleeding": "letter"}),
    35: ("LETTER, no advice on antibiotics", {"heart": "letter"}),
    36: ("LETTER", {"pacemaker": "letter"}),
    37: ("LETTER", {"blood_pressure": "letter"}),
    38: ("LETTER", {"epilepsy": "letter"}),
    39: ("LETTER", {"immune": "letter"}),
    40: ("LETTER, not auto-refusal (equality law)", {"blood_infection": "letter or decision"}),
    41: ("STOP", {"chemo_now": "stop"}),
    42: ("6 mo + LETTER", {"cancer_before_wait": "wait 6 months", "cancer_before_letter": "letter"}),
    43: ("LETTER", {"liver_kidney": "letter"}),
    44: ("LETTER", {"thyroid": "letter or decision"}),
    45: ("Until cleared", {"mrsa": "letter"}),
    46: ("7 d symptom-free (M)", {"ill": "wait 7 days"}),
    47: ("7 d", {"antibiotics": "wait 7 days"}),
    48: ("14 d", {"vaccinated": "wait 14 days", "shingles_vaccine": "wait 1 month"}),
    49: ("Flag on header", {"fainting": "caution"}),
    50: ("Structured questions + second visit",
         dict.fromkeys(("mind_often", "held_back", "hard_time", "hopes_gone"), "talk 1 day")),
    51: ("12 mo; private answer; signposting", {"self_harm": "wait 12 months", "no_support": "talk"}),
    52: ("24 h", {"visit_affected": "stop", "sober": "advice 24 hours"}),
    53: ("STOP; jurisdiction setting", {"under_age": "legal bar", "needs_guardian": "guardian"}),
    54: ("12 mo, LETTER to shorten to 6", {"isotretinoin": "wait 12 months"}),
    55: ("14 d before, 30 d after", {"retinoid_cream": "wait 14 days", "retinoid_after": "advice 30 days"}),
    56: ("14 d", {"retinoid_cream": "wait 14 days"}),
    57: ("LETTER; cream stopped 4 wk (M)", {"steroids": "letter", "steroid_cream": "wait 4 weeks"}),
    58: ("12 wk", {"after_steroid_injection": "wait 12 weeks"}),
    59: ("LETTER", {"bone_medicine": "letter or decision"}),
    60: ("Flag", {"light_medicine": "caution"}),
    61: ("24 h", {"caffeine": "advice 24 hours"}),
    62: ("2 wk (face zones only)", {"after_botulinum": "wait 2 weeks"}),
    63: ("4 wk", {"after_filler": "wait 4 weeks"}),
    64: ("8 wk; fractional on scar 12 wk (M)",
         {"after_laser": "wait 8 weeks", "after_laser_fractional": "wait 12 weeks"}),
    65: ("8 wk", {"after_peel": "wait 8 weeks"}),
    66: ("6 wk", {"after_needling": "wait 6 weeks"}),
    67: ("12 wk", {"after_fat_transfer": "wait 12 weeks"}),
    68: ("12 mo", {"operated": "wait 12 months"}),
    69: ("72 h", {"hair": "advice 3 days"}),
    70: ("8 wk", {"after_tattoo_removal": "wait 8 weeks", "tattoo_unhealed": "stop"}),
    71: ("Permanent alert on client + wallet card", {"future_laser": "caution"}),
    72: ("CAUTION text", {"mri_due": "caution"}),
    73: ("Tell client", {"blood_donation": "advice 3 to 4 months"}),
    # 24 h seen, minimum 48 h asked by insurers: the cautious one.
    74: ("TEST or STOP", {"metal_allergy": "patch 2 days", "pigment_reaction": "letter", "patch_reacted": "letter"}),
    75: ("CAUTION, TEST", {"hair_dye_reaction": "patch 2 days"}),
    76: ("Latex-free set-up", {"latex_allergy": "caution"}),
    77: ("No numbing", {"numbing_reaction": "caution"}),
    78: ("Swap dressing", {"adhesive_allergy": "caution"}),
    79: ("Swap", {"antiseptic_allergy": "caution"}),
}  # fmt: skip
HABITS = {33, 61, 69, 73}  # Advice and no finding.


def done(rule: Rule) -> str:
    """What a rule does, in the words of the table."""
    if rule.consequence == "stop_until_proof":
        proofs = {"letter": "letter", "photo_pair": "photos", "guardian_consent": "guardian"}
        words = " ".join(proofs[proof] for proof in rule.lifted_by if proof in proofs) or "stop"
        return words + (" or decision" if "informed_decision" in rule.lifted_by else "")
    short = {"legal_bar": "legal bar", "test_patch": "patch", "test_spot": "spot"}
    words = short.get(rule.consequence, rule.consequence)
    return f"{words} {rule.wait.words}" if rule.wait is not None else words


@pytest.mark.parametrize("row", ROWS)
def test_each_row_of_the_trade_facts_is_done_as_its_default_says(row: int) -> None:
    rules = {rule.id: done(rule) for rule in RULE_SET.rules if row in rule.facts_rows}
    advice = {item.id: item.words for item in RULE_SET.advice if row in item.facts_rows}
    _, expected = ROWS[row]
    assert rules == {key: words for key, words in expected.items() if not words.startswith("advice")}
    assert advice.keys() == expected.keys() - rules.keys()
    for key, words in advice.items():
        assert expected[key].removeprefix("advice ") in words


def test_the_rows_of_rules_and_advice_are_all_seventy_nine() -> None:
    ruled = {row for rule in RULE_SET.rules for row in rule.facts_rows}
    advised = {row for item in RULE_SET.advice for row in item.facts_rows}
    assert ruled | advised == set(ROWS) == set(range(1, 80))
    assert advised - ruled == HABITS


def test_no_length_stands_in_a_rule_that_no_row_gives() -> None:
    beside_the_rows = {rule.id for rule in RULE_SET.rules if rule.wait is not None and not rule.facts_rows}
    assert not beside_the_rows


def test_a_rule_whose_number_is_from_memory_is_tagged_so() -> None:
    # Rows whose default or interval the trade facts mark M.
    for rule_id in ("herpes_now", "psoriasis", "eczema", "ill", "steroid_cream", "after_steroid_injection",
                    "after_laser_fractional", "light_medicine", "antiseptic_allergy"):  # fmt: skip
        assert "M" in RULE_SET.rule(rule_id).source_tags, rule_id
        assert "from memory, unchecked" in RULE_SET.rule(rule_id).source, rule_id


def test_a_letter_may_shorten_isotretinoin_to_the_six_months_of_the_drug_insert() -> None:
    rule = RULE_SET.rule("isotretinoin")
    assert rule.floor is not None
    assert (rule.floor.words, rule.lifted_by) == ("6 months", ("letter",))


def test_the_stop_for_alcohol_and_drugs_names_its_24_hours() -> None:
    rule = RULE_SET.rule("visit_affected")
    assert "24 hours" in rule.what_lifts
    assert (rule.wait is not None and rule.wait.words, rule.range_seen) == ("1 day", "24 hours; some 48 hours")


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
    assert "9.7 %" in RULE_SET.rule("hopes_gone").range_seen
    assert "2 of 135" in RULE_SET.rule("mri_due").reason
