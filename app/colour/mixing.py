"""What colour a mixture of pigments will have: Kubelka and Munk's theory, band by band; a bottle from its swatches.

Thinning with diluent is left out of every prediction: it makes a layer cover less but does not turn its hue, and no
measured figure for it under skin was found.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from app.colour.difference import delta_e_00
from app.colour.spaces import FloatArray, lab_d65_from_reflectance
from app.colour.spectra import BANDS, reflectance_from_lab

Kind = Literal["skin_tone", "strong", "white", "diluent"]
Trust = Literal["trusted", "untrusted"]

# Mean error (ΔE00) of predicted mixtures at swatch noise of 0, 1 and 2 Lab units a channel. Source: our own simulations
# with this code, 400 skin-range mixtures of 3 to 4 paints, truth = K and S of 27 artist paints (Y. Okumura, thesis, RIT
# 2005), four draws of the noise; 90 % intervals built on them held 88 to 98 % of the true colours.
NOISE_STEPS = (0.0, 1.0, 2.0)
# Skin tones from their undiluted colour, one constant. The larger of two trials; the other gave 0.30, 0.96 and 1.86.
PREMIXED_ERROR = (1.26, 1.8, 2.7)
ONE_TINT_ERROR = (1.0, 2.1, 3.7)  # strong, undiluted and a tint of 75 % white; with 60 % white 1.1, 1.9, 3.2
SEVERAL_TINTS_ERROR = (1.1, 1.7, 2.8)  # strong, two or three tints of 50 to 90 % white; worst figures of both
UNTRUSTED_ERROR = 30.5  # strong, from its undiluted colour alone

# A strong pigment is taken to scatter half as much as white unless its swatches say otherwise; the weight is that of a
# reflectance off by 0.03. From the same simulations: mean error 1.3 -> 1.0 without noise, 5.7 -> 4.3 at 2 (one draw).
HABITUAL_SCATTERING = 0.5
HABIT_WEIGHT = 0.03
DEFAULT_LAB_NOISE = 1.0  # standard deviation of L*, a*, b* of a swatch read with a chart; an estimate, no source

_LOWEST_REFLECTANCE = 1e-6  # below it K/S exceeds half a million and says nothing more
_LOWEST_SCATTERING = 1e-4  # of white = 1: keeps K/S of a pure dye finite
_FIT_ROUNDS = 12


@dataclass(frozen=True)
class Swatch:
    """A measured sample of one bottle: 0 white_share is undiluted, 0.75 is three parts white to one part of it."""

    white_share: float
    lab_d65: tuple[float, float, float]
    lab_noise: float = DEFAULT_LAB_NOISE


@dataclass(frozen=True, eq=False)
class Paint:
    """What mixing needs to know of one bottle: absorption k and scattering s, (36,) each, per drop, white s = 1."""

    key: int
    kind: Kind
    k: FloatArray
    s: FloatArray
    trust: Trust
    fit_error_delta_e_00: float
    note: str


@dataclass(frozen=True, eq=False)
class Mixture:
    """A predicted mixture: reflectance (36,), 0..1, 380..730 nm; lab_d65 (3,), D65, 2 degree observer."""

    reflectance: FloatArray
    lab_d65: FloatArray


def k_over_s(reflectance: ArrayLike) -> FloatArray:
    """Absorption over scattering of an opaque layer, from its reflectance.

    reflectance: any shape, 0..1; values under 1e-6 are taken as 1e-6, over 1 as 1. Returns: same shape, 0 and up.
    Source: P. Kubelka and F. Munk, Zeitschrift für technische Physik 12:593-601, 1931: (1 - R)² / 2R.

    >>> k_over_s([0.05, 0.1, 0.2, 0.25, 0.5, 0.8]).round(6).tolist()
    [9.025, 4.05, 1.6, 1.125, 0.25, 0.025]
    """
    r = np.clip(np.asarray(reflectance, dtype=np.float64), _LOWEST_REFLECTANCE, 1.0)
    return np.asarray((1.0 - r) ** 2 / (2.0 * r), dtype=np.float64)


def reflectance_of(k_over_s_ratio: ArrayLike) -> FloatArray:
    """Reflectance of an opaque layer, from its absorption over scattering.

    k_over_s_ratio: any shape, 0 and up. Returns: same shape, 0..1. Written 1 / (1 + q + sqrt(q² + 2q)), which keeps
    all digits where 1 + q - sqrt(q² + 2q) cancels.
    Source: Kubelka and Munk 1931, solved for R.

    >>> reflectance_of([9.025, 1.6, 0.25]).round(6).tolist()
    [0.05, 0.2, 0.5]
    """
    q = np.asarray(k_over_s_ratio, dtype=np.float64)
    return np.asarray(1.0 / (1.0 + q + np.sqrt(q * (q + 2.0))), dtype=np.float64)


def single_constant(reflectances: ArrayLike, shares: ArrayLike) -> FloatArray:
    """Reflectance of a mixture whose parts all scatter alike.

    reflectances: (m, n), 0..1, one row a part; shares: (m,), any positive amounts. Returns: (n,), 0..1.
    Source: D. R. Duncan, Proc. Phys. Soc. 52:390, 1940 (K adds with the shares; from memory, unchecked), with equal S.

    >>> single_constant([[0.8], [0.2]], [1, 1]).round(7).tolist()
    [0.3008267]
    """
    weight = np.asarray(shares, dtype=np.float64)
    return reflectance_of(weight @ k_over_s(reflectances) / weight.sum())


def two_constant(k: ArrayLike, s: ArrayLike, shares: ArrayLike) -> FloatArray:
    """Reflectance of a mixture whose parts absorb and scatter each in their own way.

    k, s: (m, n), absorption and scattering, 0 and up, same unit; shares: (m,), any positive amounts. Returns: (n,).
    Source: Duncan 1940 (from memory, unchecked): K and S each add with the shares.

    >>> two_constant([[2.0], [0.01]], [[0.1], [1.0]], [0.3, 0.7]).round(7).tolist()
    [0.2970958]
    """
    weight = np.asarray(shares, dtype=np.float64)
    return reflectance_of(weight @ np.asarray(k, dtype=np.float64) / (weight @ np.asarray(s, dtype=np.float64)))


def with_surface(reflectance: ArrayLike, k1: float = 0.04, k2: float = 0.6) -> FloatArray:
    """Reflectance measured above a glossy surface, from the reflectance inside.

    reflectance: any shape, 0..1; k1: share reflected on the way in (0.03 to 0.08 in use), k2: on the way out (0.4 to
    0.6). Returns: same shape. Not used on swatches from photos set against a matte chart, which already contain it.
    Source: J. L. Saunderson, Journal of the Optical Society of America 32:727, 1942.

    >>> with_surface([0.0, 0.2, 0.5, 0.8, 1.0]).round(6).tolist()
    [0.04, 0.127273, 0.314286, 0.630769, 1.0]
    """
    r = np.asarray(reflectance, dtype=np.float64)
    return np.asarray(k1 + (1.0 - k1) * (1.0 - k2) * r / (1.0 - k2 * r), dtype=np.float64)


def without_surface(measured: ArrayLike, k1: float = 0.04, k2: float = 0.6) -> FloatArray:
    """Reflectance inside a material, from that measured above its glossy surface.

    measured: any shape, k1..1 (lower is taken as k1); k1, k2 as in with_surface. Returns: same shape, 0..1.
    Source: Saunderson 1942, solved for R.

    >>> without_surface([0.04, 0.314286]).round(5).tolist()
    [0.0, 0.5]
    """
    above = np.maximum(np.asarray(measured, dtype=np.float64), k1)
    return np.asarray((above - k1) / (1.0 - k1 - k2 + k2 * above), dtype=np.float64)


def layer_over(k: ArrayLike, s: ArrayLike, thickness: float, backing: ArrayLike) -> FloatArray:
    """Reflectance of a layer of pigment over a backing that shows through.

    k, s: same shape, absorption and scattering per unit of thickness, 0 and up; thickness: 0 and up; backing:
    reflectance 0..1 of what lies under it. Returns: same shape. Thickness 0 gives the backing; s = 0 a clear filter.
    Raises: ValueError for a negative amount.
    Source: P. Kubelka, Journal of the Optical Society of America 38:448, 1948; multiplied through by S and
    the thickness, so that neither 0 needs an exception; near 0 the cotangent is its series.

    >>> [round(float(layer_over(0.5, 1.0, 1.0, under)), 6) for under in (0.0, 0.8)]
    [0.346546, 0.4356]
    """
    absorb, scatter = np.asarray(k, dtype=np.float64), np.asarray(s, dtype=np.float64)
    under = np.asarray(backing, dtype=np.float64)
    if thickness < 0 or bool(np.any(absorb < 0)) or bool(np.any(scatter < 0)):
        raise ValueError("absorption, scattering and thickness cannot be negative")
    absorb, scatter = absorb * thickness, scatter * thickness
    total = absorb + scatter
    depth = np.sqrt(absorb * (absorb + 2.0 * scatter))
    rise = np.where(depth < 1e-4, 1.0 + depth**2 / 3.0, depth / np.tanh(np.maximum(depth, 1e-4)))  # depth · coth(depth)
    return np.asarray((scatter - under * (total - rise)) / (total - under * scatter + rise), dtype=np.float64)


def paint_from_swatches(key: int, kind: Kind, swatches: Sequence[Swatch], white: Paint | None) -> Paint:
    """What a bottle does in a mixture, worked out from its measured swatches.

    key: the bottle, as the caller knows it; kind: premixed skin tones and white need their undiluted colour alone; a
    strong pigment also needs a tint in white (60 % white serves best, two tints better), with that white as `white`, or
    it comes back untrusted with the reason.
    Returns: Paint with k and s (36,), white s = 1, and its expected error in mixtures (ΔE00, mean).
    Raises: ValueError when no undiluted swatch is given (diluent needs none) or a white share is outside 0..1.
    Source: white-referenced two-constant mixing, R. S. Berns and M. Mohammadi, Color Research and Application
    32:201, 2007; errors as measured beside PREMIXED_ERROR.

    >>> beige = paint_from_swatches(4, "skin_tone", (Swatch(0.0, (68.0, 10.0, 18.0)),), None)
    >>> beige.trust, mix((beige,), {4: 3}).lab_d65.round(4).tolist()
    ('trusted', [68.0, 10.0, 18.0])
    """
    if kind == "diluent":
        nothing = np.zeros(BANDS)
        return Paint(key, kind, nothing, nothing, "trusted", 0.0, "Diluent thins the mix; its colour is left out.")
    if any(not 0.0 <= swatch.white_share < 1.0 for swatch in swatches):
        raise ValueError("a white share lies between 0 and 1, and below 1")
    undiluted = [swatch for swatch in swatches if swatch.white_share == 0.0]
    tints = [swatch for swatch in swatches if swatch.white_share > 0.0]
    if not undiluted:
        raise ValueError("a bottle needs a swatch of its undiluted colour")
    noise = float(np.mean([swatch.lab_noise for swatch in swatches]))
    if kind == "strong" and tints and white is not None:
        return _two_constant_paint(key, undiluted, tints, white, noise)
    lab = np.mean([swatch.lab_d65 for swatch in undiluted], axis=0)
    reflectance = reflectance_from_lab(lab)
    k, s = k_over_s(reflectance), np.ones_like(reflectance)
    if kind == "strong":
        lacking = "no swatch let down with white" if not tints else "no measured white to compare its tints with"
        note = f"Not to be trusted: {lacking}. Mixtures from its undiluted colour alone are off by tens of ΔE00."
        return Paint(key, kind, k, s, "untrusted", UNTRUSTED_ERROR, note)
    error = float(np.hypot(_at_noise(PREMIXED_ERROR, noise), delta_e_00(lab, lab_d65_from_reflectance(reflectance))))
    return Paint(key, kind, k, s, "trusted", error, "From its undiluted colour, taken to scatter like white.")


def mix(paints: Sequence[Paint], drops: Mapping[int, float]) -> Mixture:
    """The predicted colour of counted drops from known bottles.

    paints: the bottles; drops: amount for each paint key, 0 and up; diluent counts for nothing.
    Returns: Mixture with reflectance (36,) and lab_d65 (3,).
    Raises: ValueError for a negative amount or no colour at all, KeyError for a bottle that is not among the paints.
    Source: two-constant Kubelka-Munk (Duncan 1940); drops are taken to be of equal volume.

    >>> pale = paint_from_swatches(1, "skin_tone", (Swatch(0.0, (80.0, 6.0, 14.0)),), None)
    >>> deep = paint_from_swatches(2, "skin_tone", (Swatch(0.0, (45.0, 14.0, 22.0)),), None)
    >>> [round(float(v)) for v in mix((pale, deep), {1: 6, 2: 6}).lab_d65]
    [54, 13, 22]
    """
    by_key = {paint.key: paint for paint in paints}
    used = [(by_key[key], amount) for key, amount in drops.items() if by_key[key].kind != "diluent" and amount != 0]
    if not used or any(amount < 0 for _, amount in used):
        raise ValueError("a mixture needs a positive amount of at least one pigment, and no negative ones")
    k = np.array([paint.k for paint, _ in used])
    s = np.array([paint.s for paint, _ in used])
    reflectance = two_constant(k, s, [amount for _, amount in used])
    return Mixture(reflectance, lab_d65_from_reflectance(reflectance))


def _at_noise(errors: tuple[float, float, float], noise: float) -> float:
    """Between the measured steps a straight line; above the last, the last slope carried on."""
    beyond = max(0.0, noise - NOISE_STEPS[-1]) * (errors[-1] - errors[-2])
    return float(np.interp(noise, NOISE_STEPS, errors)) + beyond


def _two_constant_paint(
    key: int, undiluted: Sequence[Swatch], tints: Sequence[Swatch], white: Paint, noise: float
) -> Paint:
    swatches = (*undiluted, *tints)
    share = np.array([swatch.white_share for swatch in swatches])
    measured = np.array([reflectance_from_lab(swatch.lab_d65) for swatch in swatches])
    k, s = _fit_two_constants(share, measured, white)
    fitted = reflectance_of(
        ((1.0 - share)[:, None] * k + share[:, None] * white.k)
        / ((1.0 - share)[:, None] * s + share[:, None] * white.s)
    )
    labs = np.array([swatch.lab_d65 for swatch in swatches])
    misfit = float(np.sqrt(np.mean(delta_e_00(labs, lab_d65_from_reflectance(fitted)) ** 2)))
    error = _at_noise(SEVERAL_TINTS_ERROR if len(tints) >= 2 else ONE_TINT_ERROR, noise)
    note = f"From its undiluted colour and {len(tints)} {'tint' if len(tints) == 1 else 'tints'} in white."
    if white.trust == "untrusted":
        return Paint(key, "strong", k, s, "untrusted", UNTRUSTED_ERROR, f"Not to be trusted: its white is not. {note}")
    return Paint(key, "strong", k, s, "trusted", float(np.hypot(error, misfit)), note)


def _fit_two_constants(share: FloatArray, measured: FloatArray, white: Paint) -> tuple[FloatArray, FloatArray]:
    """Nonnegative least squares for k and s, band by band.

    A swatch of white share c and K/S q asks (1-c) k - q (1-c) s = c (q s_white - k_white). Each such line is weighted
    by how far its miss would show in the reflectance, which depends on the answer: hence the rounds. A last, weak line
    asks for usual scattering; it decides only where the swatches are too noisy or too dark to tell.
    """
    q = k_over_s(measured)
    own = (1.0 - share)[:, None]
    wanted = share[:, None] * (q * white.s - white.k)
    root = np.sqrt(q * (q + 2.0))
    steepness = np.clip(measured, _LOWEST_REFLECTANCE, 1.0) / np.maximum(root, 1e-3)  # |dR/dq|
    k, s = q[share == 0.0].mean(axis=0), np.ones(q.shape[1])
    habit = np.full((1, q.shape[1]), HABIT_WEIGHT)
    for _ in range(_FIT_ROUNDS):
        weight = steepness / (own * s + share[:, None] * white.s)
        k, s = _nonnegative_pair(
            np.vstack([weight * own, 0.0 * habit]),
            np.vstack([-weight * own * q, habit]),
            np.vstack([weight * wanted, HABITUAL_SCATTERING * habit]),
        )
    return k, s


def _nonnegative_pair(first: FloatArray, second: FloatArray, wanted: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Least squares of first·x + second·y = wanted in each column, x >= 0 and y at least a trace."""
    aa, bb, ab = (first**2).sum(axis=0), (second**2).sum(axis=0), (first * second).sum(axis=0)
    aw, bw = (first * wanted).sum(axis=0), (second * wanted).sum(axis=0)
    determinant = aa * bb - ab**2
    safe = determinant > 1e-12 * aa * bb + 1e-300
    divisor = np.where(safe, determinant, 1.0)
    x, y = (bb * aw - ab * bw) / divisor, (aa * bw - ab * aw) / divisor
    # On an edge of the allowed quarter-plane the other unknown has its own one-line answer.
    edge_y = np.full_like(y, _LOWEST_SCATTERING)
    edge_x = np.maximum((aw - ab * edge_y) / np.maximum(aa, 1e-300), 0.0)
    inner = safe & (x >= 0.0) & (y >= _LOWEST_SCATTERING)
    other_y = np.maximum(bw / np.maximum(bb, 1e-300), _LOWEST_SCATTERING)
    miss_x = ((first * edge_x + second * edge_y - wanted) ** 2).sum(axis=0)
    miss_y = ((second * other_y - wanted) ** 2).sum(axis=0)
    on_x = miss_x <= miss_y
    return (
        np.asarray(np.where(inner, x, np.where(on_x, edge_x, 0.0))),
        np.asarray(np.where(inner, y, np.where(on_x, edge_y, other_y))),
    )
