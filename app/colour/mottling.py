"""How far the middle colour of a patch of skin stands for the skin: mottles are several mm wide, and a patch is small.

Neighbouring pixels are alike, and so are neighbouring blocks of pixels, so that counting either as independent makes
a colour look surer than it is. Instead the difference between blocks is looked at as it grows with their distance
(the variogram), in both regions together, and carried over to all pairs of places within and between the regions. A
fall-off of the light that shows within the regions is part of it, and cancels where skin lies all round the scar.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from app.colour.spaces import FloatArray

# Steps of distance, up to this share of the largest within a region: pairs further apart are few, and much the same.
STEPS, FURTHEST_SHARE = 14, 0.6
# The variance found rests on few mottles and is itself off by a third or more; an interval that takes it at its word
# misses too often (tried on the rendered truth bench). As Student's factor does for eight or nine degrees of freedom:
FEW_MOTTLES = 1.3
# Fewer pairs than this at a distance tell nothing.
FEWEST_PAIRS = 20


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """Blocks of one region: middle (n, 3) of each, in any space; at (n, 2) px; share (n,) of the region's pixels."""

    middle: FloatArray
    at: FloatArray
    share: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Variogram:
    """Half the mean square of the difference of two blocks.

    far: (3, 3) of blocks far apart; share: (k,) of it, 0 to 1, that blocks at distance_px (k,) show, never falling.
    All axes are taken to grow alike: apart from one another each would rest on too few mottles.
    """

    far: FloatArray
    distance_px: FloatArray
    share: FloatArray

    def between(self, one: Blocks, other: Blocks) -> float:
        """Mean share over all pairs of a block of one region and a block of the other."""
        apart = np.linalg.norm(one.at[:, None] - other.at[None], axis=2)
        # A block does not differ from itself.
        shares = np.where(apart > 0, np.interp(apart, self.distance_px, self.share), 0.0)
        return float(one.share @ shares @ other.share)


def blocks_of(values: FloatArray, block: npt.NDArray[np.int64], block_at: FloatArray) -> Blocks:
    """The blocks of a region from its pixels.

    Takes: values (n, 3); block (n,), the number of each pixel's block; block_at (m, 2) px, the middle of each block.
    Gives: Blocks, of the blocks that hold a pixel. Source: medians on each axis.

    >>> blocks_of(np.zeros((4, 3)), np.array([0, 0, 1, 1]), np.array([[0.0, 0.0], [9.0, 0.0]])).share.tolist()
    [0.5, 0.5]
    """
    order = np.argsort(block, kind="stable")
    cuts = np.flatnonzero(np.diff(block[order])) + 1
    pieces = np.split(values[order], cuts)
    count = np.array([len(piece) for piece in pieces], dtype=np.float64)
    held = block[order][np.concatenate([[0], cuts])]
    return Blocks(np.array([np.median(piece, axis=0) for piece in pieces]), block_at[held], count / count.sum())


def variogram(regions: tuple[Blocks, ...]) -> Variogram | None:
    """How the difference of two blocks grows with their distance, from pairs within the same region.

    Takes: blocks of one region or several of the same photo. Gives: Variogram, never falling; None when there are too
    few blocks for any. Source: Matheron, Economic Geology 58:1246, 1963 (from memory, unchecked); the limits are
    choices of this program, tried on made-up mottled skin (tests/colour/test_measure_regions.py).

    >>> at = np.argwhere(np.ones((9, 9))) * 10.0
    >>> noise = np.random.default_rng(0).normal(size=(81, 3))
    >>> found = variogram((Blocks(noise, at, np.full(81, 1 / 81)),))
    >>> bool(0.7 < found.far[0, 0] < 1.3)
    True
    """
    apart, step = [], []
    for region in regions:
        one, other = np.triu_indices(len(region.at), 1)
        step.append(region.middle[one] - region.middle[other])
        apart.append(np.linalg.norm(region.at[one] - region.at[other], axis=1))
    distance, steps = np.concatenate(apart), np.concatenate(step)
    if len(distance) < FEWEST_PAIRS:
        return None
    half = (steps**2).sum(axis=1) / 2
    edges = np.linspace(0, FURTHEST_SHARE * float(distance.max()), STEPS + 1)
    number = np.digitize(distance, edges) - 1
    count = np.bincount(number, minlength=STEPS + 1)[:STEPS]
    enough = count >= FEWEST_PAIRS
    mean = np.bincount(number, half, STEPS + 1)[:STEPS][enough] / count[enough]
    at = ((edges[1:] + edges[:-1]) / 2)[enough]
    if not len(at):
        at, mean = np.array([float(distance.mean())]), np.array([float(half.mean())])
    mean = np.maximum(np.maximum.accumulate(mean), 1e-12)
    late = steps[distance >= min(float(np.median(distance)), at[-1])]
    form = late.T @ late / 2 / len(late)
    # Towards no distance at all, half of what the nearest show: the rest is fine structure and noise.
    shares = np.concatenate([[mean[0] / 2], mean]) / mean[-1]
    far = form / max(float(np.trace(form)), 1e-12) * mean[-1]
    return Variogram(np.asarray(far, dtype=np.float64), np.concatenate([[0.0], at]), shares)


def sampling_covariances(scar: Blocks, skin: Blocks, values: tuple[FloatArray, FloatArray]) -> tuple[FloatArray, ...]:
    """How far the middles of two regions may lie off those of the scar and the skin they stand for.

    Takes: blocks of both; the pixels (n, 3) of both, whose whole scatter counts when there are too few blocks.
    Gives: covariances (3, 3): of scar minus skin, of the scar, of the skin.
    Source: variance of estimation of a mean (Journel, Huijbregts, Mining Geostatistics, 1978; from memory, unchecked).

    >>> values = np.random.default_rng(0).normal(size=(2, 900, 3))
    >>> at, block = np.argwhere(np.ones((6, 6))) * 9.0, np.arange(900) // 25
    >>> both = [blocks_of(values[0], block, at), blocks_of(values[1], block, at + [99.0, 0.0])]
    >>> bool(0 < sampling_covariances(*both, (values[0], values[1]))[0][0, 0] < 0.05)
    True
    """
    found = variogram((scar, skin))
    if found is None:
        alone = [np.diag(np.var(one, axis=0)) for one in values]
        return alone[0] + alone[1], alone[0], alone[1]
    far, own_scar, own_skin = FEW_MOTTLES * found.far, found.between(scar, scar), found.between(skin, skin)
    return (
        max(0.0, 2 * found.between(scar, skin) - own_scar - own_skin) * far,
        max(0.0, 1 - own_scar) * far,
        max(0.0, 1 - own_skin) * far,
    )
