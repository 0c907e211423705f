"""The photos of the made-up studio: who is seen, at which visit, in what light. Colours are invented; see photos.py."""

from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context

from app.demo.camera import Light
from app.demo.photos import Rendered, Scene, render

WARM = Light(1.08, 0.88, 0.85, 0.03, -0.02)
COOL = Light(0.96, 1.06, 0.87, -0.03, 0.02)
WINDOW = Light(1.0, 1.03, 0.86, 0.06, -0.03)

FOREARM = Scene(
    101, (70.7, 8.4, 13.1), (77.0, 5.6, 8.6), "line", "forearm", scar_degrees=10.0, hair=0.35, freckles=0.5, pores=0.5
)
SHIN = Scene(
    102, (67.3, 9.5, 14.8), (74.6, 7.4, 9.6), "patch", "shin", scar_degrees=20.0, mirrored=True, hair=0.7, freckles=0.15
)
TUMMY = Scene(
    103,
    (63.0, 10.2, 18.1),
    (70.8, 8.0, 11.6),
    "stretch",
    "abdomen",
    scar_degrees=62.0,
    hair=0.15,
    freckles=0.1,
    pores=0.5,
)
CHEST = Scene(104, (56.5, 11.5, 21.1), (66.8, 9.4, 14.4), "graft", "chest", scar_degrees=-6.0, hair=0.25, freckles=0.1)
SIDE = Scene(
    105,
    (48.9, 11.6, 19.8),
    (61.5, 9.6, 14.0),
    "burn",
    "abdomen",
    scar_degrees=-8.0,
    mirrored=True,
    hair=0.3,
    freckles=0.05,
)
ARM = Scene(
    106,
    (38.0, 11.0, 15.5),
    (50.0, 11.0, 15.0),
    "patch",
    "forearm",
    scar_degrees=-15.0,
    mirrored=True,
    hair=0.3,
    freckles=0.0,
)

_SCENES: dict[str, Scene] = {
    "forearm before": FOREARM,
    "forearm fresh 1": replace(FOREARM, scar_lab_d65=(71.2, 13.1, 11.0), redness=0.8, visit=5, light=COOL),
    "forearm settled 1": replace(FOREARM, scar_lab_d65=(74.4, 6.6, 10.4), visit=1, light=WINDOW),
    "forearm settled 2": replace(FOREARM, scar_lab_d65=(71.5, 8.1, 12.5), visit=2, light=COOL),
    "shin before": replace(SHIN, light=WARM),
    "shin fresh 1": replace(SHIN, scar_lab_d65=(68.2, 14.7, 12.2), redness=0.8, visit=5, light=COOL),
    "shin settled 1": replace(SHIN, scar_lab_d65=(71.4, 8.2, 11.6), visit=1, light=WINDOW),
    "shin fresh 2": replace(SHIN, scar_lab_d65=(67.5, 14.2, 12.8), redness=0.8, visit=6),
    "shin day 4": replace(SHIN, scar_lab_d65=(66.0, 13.5, 13.0), redness=0.5, visit=3, light=WARM, chart=None),
    "tummy before": TUMMY,
    "tummy fresh 1": replace(TUMMY, scar_lab_d65=(64.7, 15.2, 14.2), redness=0.8, visit=5, light=COOL),
    "tummy settled 1": replace(TUMMY, scar_lab_d65=(67.9, 8.7, 13.6), visit=1, light=WINDOW),
    "chest before": replace(CHEST, light=WINDOW, chart=None),
    "side before": replace(SIDE, light=COOL),
    "arm before": replace(ARM, light=WARM),
    "arm fresh 1": replace(ARM, scar_lab_d65=(42.2, 17.6, 15.8), redness=0.8, visit=5),
}
# Large enough to be measured and looked at, and painted in half the time of 1600 px.
SCENES = {name: replace(scene, width=1280, height=960) for name, scene in _SCENES.items()}


def render_album(say: Callable[..., object]) -> dict[str, Rendered]:
    """Every photo of the album, painted two at a time in processes of their own."""
    say(f"  painting {len(SCENES)} photos")
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        return dict(zip(SCENES, pool.map(render, SCENES.values()), strict=True))
