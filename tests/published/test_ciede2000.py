"""CIEDE2000 against the 34 pairs of Sharma, Wu, Dalal, Color Research and Application 30(1):21-30, 2005."""

from pathlib import Path

import numpy as np

from app.colour.difference import delta_e_00

PAIRS = np.genfromtxt(Path(__file__).parent / "data" / "ciede2000_sharma.csv", delimiter=",", skip_header=1)
LAB_1, LAB_2, PUBLISHED = PAIRS[:, 1:4], PAIRS[:, 4:7], PAIRS[:, 7]


def test_all_34_published_pairs_are_met_to_a_ten_thousandth() -> None:
    assert PAIRS.shape == (34, 8)
    assert np.abs(delta_e_00(LAB_1, LAB_2) - PUBLISHED).max() < 1e-4


def test_the_order_of_the_two_colours_does_not_matter() -> None:
    assert np.abs(delta_e_00(LAB_2, LAB_1) - delta_e_00(LAB_1, LAB_2)).max() < 1e-9


def test_one_pair_and_many_give_the_same() -> None:
    singly = [float(delta_e_00(one, other)) for one, other in zip(LAB_1, LAB_2, strict=True)]
    assert np.array_equal(singly, delta_e_00(LAB_1, LAB_2))


def test_equal_colours_differ_by_nothing() -> None:
    assert np.array_equal(delta_e_00(LAB_1, LAB_1), np.zeros(34))
