from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.colour.difference import delta_e_00
from app.colour.mixing import Paint, Swatch, mix, paint_from_swatches
from app.colour.pruning import window_of
from app.colour.recipes import Proposal, in_words, search
from app.colour.spaces import xyz_d65_from_lab_d65
from tests.colour.paints import random_shelf, skin_target, skin_tone


def pale_and_deep() -> list[Paint]:
    return [skin_tone(1, (82.0, 6.0, 14.0)), skin_tone(2, (45.0, 14.0, 22.0)), skin_tone(3, (70.0, 4.0, 28.0))]


def every(result_parts: tuple[tuple[Proposal, ...], ...]) -> list[Proposal]:
    return [proposal for group in result_parts for proposal in group]


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.integers(0, 10_000), st.integers(3, 7), st.booleans(), st.integers(4, 12))
def test_no_recipe_is_ever_darker_than_the_target(seed: int, bottles: int, two: bool, drops: int) -> None:
    target = skin_target(seed)
    found = search(random_shelf(seed, bottles, two_constant=two), target.tolist(), drops=drops)
    offered = every((found.proposals, found.by_pigment_count, found.smaller_totals))
    assert all(proposal.lab_d65[0] >= target[0] - 1e-6 for proposal in offered)
    assert bool(offered) != bool(found.reason)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.integers(0, 10_000), st.floats(0.05, 12.0), st.booleans())
def test_every_colour_within_the_limit_lies_inside_the_window_that_prunes(seed: int, limit: float, never: bool) -> None:
    random = np.random.default_rng(seed)
    target = random.uniform([5, -40, -40], [98, 40, 40])
    labs = target + random.normal(0.0, limit, (4000, 3)) * random.uniform(0.2, 3.0, 3)
    labs = labs[(labs[:, 0] > 0) & (labs[:, 0] < 100) & (delta_e_00(labs, target) <= limit)]
    if never:
        labs = labs[labs[:, 0] >= target[0]]
    window = window_of((float(target[0]), float(target[1]), float(target[2])), limit, never)
    x, y, z = (xyz_d65_from_lab_d65(labs) / xyz_d65_from_lab_d65([100.0, 0.0, 0.0])).T
    sums = np.stack([x, y, z, x - y, y - z, x - z], axis=1)
    assert bool(np.all((labs[:, 0] >= window.lightness[0]) & (labs[:, 0] <= window.lightness[1])))
    assert bool(np.all((sums >= window.low) & (sums <= window.high)))


def test_a_known_mix_is_found_again_in_its_smallest_form() -> None:
    shelf = pale_and_deep()
    found = search(shelf, mix(shelf, {1: 8, 2: 4}).lab_d65.tolist())
    assert found.proposals[0].drops == {1: 8, 2: 4}
    assert found.proposals[0].delta_e_00 < 1e-6
    assert found.proposals[0].words == "no measurable difference"
    assert [proposal.drops for proposal in found.smaller_totals][-1] == {1: 2, 2: 1}


def test_a_bottle_that_is_the_target_is_offered_though_rounding_might_call_it_darker() -> None:
    shelf = [skin_tone(key, (60.0 + key, 9.0, 17.0)) for key in range(1, 6)]
    for key in range(1, 6):
        assert search(shelf, (60.0 + key, 9.0, 17.0)).by_pigment_count[0].drops == {key: 12}


def test_proposals_are_whole_recipes_of_exactly_the_asked_drops_in_order() -> None:
    found = search(random_shelf(8, 9, two_constant=True), (64.0, 9.0, 16.0), drops=10, max_paints=3, keep=5)
    assert len(found.proposals) == 5
    assert all(proposal.total == 10 and 1 <= len(proposal.parts) <= 3 for proposal in found.proposals)
    errors = [proposal.delta_e_00 for proposal in found.proposals]
    assert errors == sorted(errors)
    assert len({tuple(sorted(proposal.drops.items())) for proposal in found.proposals}) == 5


def test_the_frontier_improves_with_every_further_bottle_and_drop() -> None:
    found = search(random_shelf(8, 9, two_constant=False), (64.0, 9.0, 16.0))
    by_count = found.by_pigment_count
    assert [len(proposal.parts) for proposal in by_count] == sorted({len(proposal.parts) for proposal in by_count})
    assert all(later.delta_e_00 < earlier.delta_e_00 for earlier, later in pairwise(by_count))
    assert by_count[-1] == found.proposals[0]
    best = found.proposals[0].delta_e_00
    assert found.smaller_totals
    assert all(proposal.delta_e_00 <= best + 0.3 and proposal.total < 12 for proposal in found.smaller_totals)
    totals = [proposal.total for proposal in found.smaller_totals]
    assert totals == sorted(set(totals))


def test_demanded_bottles_are_in_every_recipe_and_barred_ones_in_none() -> None:
    shelf = random_shelf(2, 8, two_constant=True)
    found = search(shelf, (64.0, 9.0, 16.0), must_use={3}, must_not_use={1, 5}, never_darker=False)
    offered = every((found.proposals, found.by_pigment_count, found.smaller_totals))
    assert len(found.proposals) == 6
    assert all(3 in proposal.drops and not {1, 5} & set(proposal.drops) for proposal in offered)


def test_bottles_all_darker_than_the_target_give_nothing_but_say_what_is_nearest() -> None:
    found = search([skin_tone(1, (55.0, 9.0, 17.0)), skin_tone(2, (50.0, 12.0, 20.0))], (66.0, 9.0, 16.0))
    assert found.proposals == found.by_pigment_count == found.smaller_totals == ()
    assert found.nearest is not None
    assert found.nearest.drops == {1: 12}
    assert "11.0 L* darker" in found.reason
    assert "not offered" in found.reason
    allowed = search([skin_tone(1, (55.0, 9.0, 17.0))], (66.0, 9.0, 16.0), never_darker=False)
    assert allowed.proposals[0].direction[0] == "darker"


def test_equal_bottles_are_ranked_by_the_lower_key_whatever_the_order_they_come_in() -> None:
    shelf = [skin_tone(key, (66.0, 9.0, 16.0)) for key in (5, 2, 9)]
    there, back = search(shelf, (65.0, 9.0, 16.0)), search(shelf[::-1], (65.0, 9.0, 16.0))
    assert there == back
    assert there.proposals[0].drops == {2: 12}


def test_words_say_what_a_bottle_does() -> None:
    shelf = pale_and_deep()
    target = mix(shelf, {1: 9, 2: 3}).lab_d65
    proposal = search(shelf, target.tolist()).proposals[0]
    without = mix(shelf, {1: 9}).lab_d65
    assert proposal.parts[1].words == f"without it the mix would be {in_words(target, without)}"
    assert "lighter" in proposal.parts[1].words
    assert "less red" in proposal.parts[1].words
    assert search(shelf[:1], (80.0, 6.0, 14.0)).proposals[0].parts[0].words == "the whole mix"


def test_sensitivity_is_the_largest_change_by_one_drop() -> None:
    shelf = pale_and_deep()
    proposal = search(shelf, mix(shelf, {1: 9, 2: 3}).lab_d65.tolist()).proposals[0]
    changes = [{1: 8, 2: 3}, {1: 10, 2: 3}, {1: 9, 2: 2}, {1: 9, 2: 4}]
    largest = max(float(delta_e_00(mix(shelf, each).lab_d65, proposal.lab_d65)) for each in changes)
    assert proposal.sensitivity_delta_e_00 == pytest.approx(largest, abs=1e-9)


def test_the_interval_holds_the_prediction_and_widens_with_the_bottles_error() -> None:
    tone = Swatch(0.0, (66.0, 9.0, 16.0), 0.0)
    sure = paint_from_swatches(1, "skin_tone", (tone,), None)
    vague = paint_from_swatches(1, "skin_tone", (Swatch(0.0, tone.lab_d65, 3.0),), None)
    narrow, wide = (search([paint], (62.0, 9.0, 16.0)).proposals[0] for paint in (sure, vague))
    assert narrow.low < narrow.delta_e_00 < narrow.high < wide.high
    assert wide.low < narrow.low
    assert wide.darkest_l_star < narrow.darkest_l_star < narrow.lab_d65[0]


def test_a_recipe_with_an_untrusted_bottle_is_marked_with_the_reason() -> None:
    strong = paint_from_swatches(4, "strong", (Swatch(0.0, (40.0, 30.0, 30.0)),), None)
    found = search([*pale_and_deep(), strong], (68.0, 10.0, 18.0), must_use={4})
    assert all(not proposal.trusted for proposal in found.proposals)
    assert "tens of ΔE00" in found.proposals[0].untrusted_because[0]
    assert found.proposals[0].high > 30.0
    assert all(proposal.trusted for proposal in search(pale_and_deep(), (68.0, 10.0, 18.0)).proposals)


def test_diluent_is_left_out_and_the_result_says_so() -> None:
    diluent = paint_from_swatches(8, "diluent", (), None)
    found = search([*pale_and_deep(), diluent], (68.0, 10.0, 18.0))
    assert found.proposals == search(pale_and_deep(), (68.0, 10.0, 18.0)).proposals
    assert "Diluent" in found.notes[0]
    assert "no pigment" in search([diluent], (68.0, 10.0, 18.0)).reason


def test_every_recipe_is_accounted_for() -> None:
    found = search(random_shelf(3, 12, two_constant=False), (64.0, 9.0, 16.0))
    # Totals 1 to 12, up to 3 of 12 bottles: sum over T of C(12,1) + C(12,2)·(T-1) + C(12,3)·C(T-1,2).
    assert found.considered == 12 * 12 + 66 * 66 + 220 * 220
    assert found.tried + found.pruned == found.considered
    assert found.tried < found.considered
    assert f"{found.considered:,}" in found.proof


def test_too_many_demands_are_answered_and_wrong_input_is_refused() -> None:
    shelf = pale_and_deep()
    assert "at most" in search(shelf, (68.0, 10.0, 18.0), must_use={1, 2, 3}, max_paints=2).reason
    assert "cannot hold" in search(shelf, (68.0, 10.0, 18.0), must_use={1, 2}, drops=1).reason
    for drops, bottles, keep in ((21, 3, 6), (0, 3, 6), (12, 5, 6), (12, 3, 0)):
        with pytest.raises(ValueError, match="1 to 20 drops"):
            search(shelf, (68.0, 10.0, 18.0), drops=drops, max_paints=bottles, keep=keep)
    with pytest.raises(ValueError, match="demanded and barred"):
        search(shelf, (68.0, 10.0, 18.0), must_use={1}, must_not_use={1})
    with pytest.raises(ValueError, match="not a pigment"):
        search(shelf, (68.0, 10.0, 18.0), must_use={77})
    with pytest.raises(ValueError, match="twice"):
        search([shelf[0], shelf[0]], (68.0, 10.0, 18.0))
    with pytest.raises(ValueError, match="finite"):
        search(shelf, (float("nan"), 10.0, 18.0))
