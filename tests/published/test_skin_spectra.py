"""Skin colours against the NIST skin set (DOI 10.18434/M38597), and what cameras do to the difference of two skins."""

import warnings
from pathlib import Path

import numpy as np

from app.colour.calibration import apply, calibrate
from app.colour.chart import Chart
from app.colour.chart_reference import shipped
from app.colour.difference import delta_e_00
from app.colour.spaces import WAVELENGTH_NM, FloatArray, ita_deg, lab_d65_from_reflectance, srgb_from_linear_rgb
from app.colour.thresholds import looks_like_skin
from app.colour.uncertainty import not_shared

with warnings.catch_warnings():
    # It warns of optional packages that are not installed.
    warnings.simplefilter("ignore")
    import colour

DATA = Path(__file__).parent / "data"
SPECTRA = np.genfromtxt(DATA / "skin_nist_spectra_380_730_10nm.csv", delimiter=",", skip_header=1)[:, 1:]
TABLE = np.genfromtxt(DATA / "skin_nist_lab.csv", delimiter=",", skip_header=1, usecols=(1, 2, 3, 7))


def test_every_skin_has_its_tabulated_colour() -> None:
    # The table was computed at finer steps and up to longer waves: 0.06 is a tenth of what putting a
    # spectrophotometer down again changes (0.64 CIEDE2000).
    assert np.abs(lab_d65_from_reflectance(SPECTRA) - TABLE[:, :3]).max() < 0.06


def test_every_skin_has_its_tabulated_typology_angle() -> None:
    assert np.abs(ita_deg(TABLE[:, :3]) - TABLE[:, 3]).max() < 0.02


def test_every_skin_looks_like_skin_and_its_colours_turned_round_do_not() -> None:
    for l_star, a, b in TABLE[:, :3]:
        assert looks_like_skin((l_star, a, b))
        assert not looks_like_skin((l_star, -a, b))
        assert not looks_like_skin((l_star, a, -b))


def _through(random: np.random.Generator, light: FloatArray, patches: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Linear RGB of chart patches and skins as a made-up camera stores them under a light."""
    peak = np.array([600, 535, 455]) + random.normal(0, 8, 3)
    width = np.array([35, 38, 28]) * random.uniform(0.8, 1.3, 3)
    filters = np.exp(-0.5 * ((WAVELENGTH_NM[:, None] - peak) / width) ** 2) * light[:, None]
    chart, skins = patches @ filters, SPECTRA @ filters
    white = chart[18] / 0.85
    own = np.linalg.lstsq(chart / white, shipped().linear_rgb, rcond=None)[0] * 0.7 + 0.3 * np.eye(3)
    return np.clip(chart / white @ own, 1e-3, 1), np.clip(skins / white @ own, 1e-3, 1)


def test_cameras_miss_two_skins_alike_by_at_least_as_much_as_the_interval_counts_on() -> None:
    """The part of a left-out patch's error that the difference of two skins keeps: see uncertainty.not_shared."""
    random = np.random.default_rng(3)
    chart_spectra = colour.SDS_COLOURCHECKERS["ISO 17321-1"].values()
    patches = np.array([[spectrum[nm] for nm in WAVELENGTH_NM] for spectrum in chart_spectra])
    lights = [np.array([colour.SDS_ILLUMINANTS[name][nm] for nm in WAVELENGTH_NM]) for name in ("D65", "D50", "LED-B3")]
    lab = lab_d65_from_reflectance(SPECTRA)
    kept, distance = [], []
    for number in range(30):
        chart, skins = _through(random, lights[number % 3], patches)
        calibration = calibrate(
            Chart(
                corners=np.zeros((4, 2)),
                patch_srgb8=srgb_from_linear_rgb(chart) * 255,
                clipped=np.zeros(24, dtype=np.bool_),
                shadow_residual=np.zeros(24),
                light_slope=np.zeros(2),
                uneven_light=0.0,
                edge_width_px=2.0,
            )
        )
        missed = apply(calibration, srgb_from_linear_rgb(skins)) - lab
        one, other = random.integers(len(lab), size=(2, 80))
        error = delta_e_00(lab[one], lab[one] + missed[one] - missed[other])
        kept.append(error / (np.sqrt(2) * calibration.loo_mean))
        distance.append(np.linalg.norm(lab[one] - lab[other], axis=1))
    kept_share, apart = np.concatenate(kept), np.concatenate(distance)
    for low, high in ((0.1, 4), (4, 8), (8, 14), (14, 30)):
        band = (apart >= low) & (apart < high)
        counted = np.sqrt(not_shared(float(apart[band].mean())))
        # The mean must not exceed what is counted, nor be so far below that the interval is empty talk: scars, which
        # differ in melanin alone, err more on the rendered truth bench than two people's skins far apart do here.
        assert 0.3 * counted < kept_share[band].mean() < counted, (low, high)
