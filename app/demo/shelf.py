"""The shelf of the made-up studio. Labels, lots and measured colours are invented."""

from dataclasses import dataclass

Lab = tuple[float, float, float]


@dataclass(frozen=True)
class Bottle:
    """An item with a lot; swatches are (share of white, Lab)."""

    key: str
    kind: str
    label: str
    lot: str
    expires_on: str
    swatches: tuple[tuple[float, Lab], ...] = ()
    colour_index: str = ""


SHELF = (
    Bottle("white", "white", "Opaque white", "W-4410", "2027-10-31", ((0.0, (95.5, -0.5, 2.0)),), "CI 77891"),
    Bottle("tone 1", "skin_tone", "Skin tone, fair", "S1-2207", "2027-06-30", ((0.0, (82.0, 5.0, 12.5)),)),
    Bottle("tone 2", "skin_tone", "Skin tone, sand", "S2-2210", "2027-06-30", ((0.0, (74.0, 8.0, 16.5)),)),
    Bottle("tone 3", "skin_tone", "Skin tone, honey", "S3-2196", "2027-04-30", ((0.0, (64.0, 11.5, 20.5)),)),
    Bottle("tone 4", "skin_tone", "Skin tone, chestnut", "S4-2201", "2027-05-31", ((0.0, (53.0, 14.0, 22.0)),)),
    Bottle("tone 5", "skin_tone", "Skin tone, walnut", "S5-2188", "2027-03-31", ((0.0, (41.0, 13.5, 18.5)),)),
    Bottle("tone 6", "skin_tone", "Skin tone, dark walnut", "S6-2191", "2027-03-31", ((0.0, (29.0, 10.0, 11.5)),)),
    Bottle(
        "ochre",
        "strong",
        "Yellow ochre",
        "Y-0917",
        "2027-08-31",
        ((0.0, (61.0, 17.0, 50.0)), (0.5, (77.0, 9.0, 37.0)), (0.75, (85.0, 4.5, 26.0))),
        "CI 77492",
    ),
    Bottle(
        "oxide",
        "strong",
        "Red oxide",
        "R-1140",
        "2027-08-31",
        ((0.0, (39.0, 31.0, 23.0)), (0.5, (58.0, 27.0, 16.0)), (0.75, (70.0, 20.0, 11.0))),
        "CI 77491",
    ),
    Bottle("umber", "strong", "Raw umber", "U-0733", "2027-02-28", ((0.0, (31.0, 6.0, 12.0)),), "CI 77492, CI 77499"),
    Bottle("water", "diluent", "Sterile water", "A-5521", "2027-12-31"),
    Bottle("needle 3", "needle", "3 round, 0.30 mm, with membrane", "N3-8841", "2028-05-31"),
    Bottle("needle 7", "needle", "7 round shader, 0.30 mm, with membrane", "N7-8790", "2028-05-31"),
    Bottle("antiseptic", "antiseptic", "Skin antiseptic without alcohol", "D-3308", "2027-01-31"),
    Bottle("numbing", "numbing", "Numbing cream, lidocaine 4 %", "L-6120", "2026-12-15"),
    Bottle("film", "dressing", "Breathable film", "F-9004", "2028-02-28"),
)
