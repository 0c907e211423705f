"""Made-up clients who have been worked on: finished, healing, and ready to be judged. See stories.py."""

from collections.abc import Iterator

from app.demo import chair
from app.demo.answers import answers, scar
from app.demo.hands import Hands, Step
from app.healing import actions as healing
from app.healing.aftercare import Answer
from app.healing.models import Course
from app.platform.audit import Actor


def finished(hands: Hands) -> Iterator[Step]:
    """Two sessions, judged, done."""
    yield 232, 10
    case = hands.case(
        "Maren Oakhurst", "1988-04-02", "Forearm", lead="tomas", email="maren@example.org", phone="+353 1 555 0101"
    )
    hands.ask(case)
    yield 231, 19
    told = answers("Maren Oakhurst", "1988-04-02", scar("s1", "forearm", "right", "2021-06"))
    screening = hands.fill_in(case, told)
    yield 230, 11
    hands.decide(screening, "accepted", by="tomas")
    zone = hands.zone(
        case,
        by="tomas",
        label="Forearm",
        site="forearm",
        side="right",
        scar_kind="flat_pale",
        cause="operation",
        happened="2021-06",
        declared=["s1"],
    )
    yield 223, 10
    hands.photo(zone, "forearm before", "before", by="tomas", second_by="ruth")
    hands.sign(case, [zone], by="tomas", record_photos=True, show_in_studio=True, website=False)
    recipe = hands.mix(zone, layer=1, by="tomas") or hands.own_mix(
        zone, "Fair with sand", {"tone 1": 8, "tone 2": 4}, layer=1, by="tomas"
    )
    assert recipe is not None
    session = chair.start(hands, case, [zone], by="tomas")
    chair.tap(
        hands,
        session,
        zone,
        {
            "device": "Pen 1",
            "device_setting": "6.5",
            "hang_mm": 1.2,
            "passes": 2,
            "first_dots": "holding",
            "bleeding": 0,
            "redness": 1,
            "sensitivity": 3,
        },
        by="tomas",
        techniques=("scattered", "dots"),
    )
    chair.finish(hands, session, by="tomas")
    hands.photo(zone, "forearm fresh 1", "fresh", by="tomas", measured=False)
    yield 138, 14
    hands.photo(zone, "forearm settled 1", "settled", by="ruth")
    hands.judge(
        zone,
        by="ruth",
        grade="fair",
        grade_second_light="fair",
        seen="in_person",
        visibility=4,
        satisfaction=7,
        next_step="another_session",
        note="Still a shade light along the upper edge.",
    )
    yield 136, 10
    hands.sign(case, [zone], by="tomas")
    if not hands.mix(zone, layer=2, by="tomas"):
        hands.own_mix(zone, "Sand with fair", {"tone 1": 6, "tone 2": 6}, layer=2, by="tomas")
    session = chair.start(hands, case, [zone], by="tomas")
    chair.tap(
        hands,
        session,
        zone,
        {
            "device": "Pen 1",
            "device_setting": "6.5",
            "hang_mm": 1.2,
            "passes": 1,
            "first_dots": "holding",
            "bleeding": 1,
            "redness": 1,
            "sensitivity": 2,
        },
        by="tomas",
        techniques=("dots", "soft_edge"),
    )
    chair.finish(hands, session, by="tomas", minutes=50)
    yield 47, 14
    hands.photo(zone, "forearm settled 2", "settled", by="ruth")
    hands.judge(
        zone,
        by="ruth",
        grade="excellent",
        grade_second_light="good",
        seen="in_person",
        visibility=1,
        satisfaction=9,
        next_step="finished",
    )


def settling(hands: Hands) -> Iterator[Step]:
    """The second layer is four days old, and the client has written."""
    yield 130, 9
    case = hands.case("Dara Lindholm", "1979-11-20", "Shin", lead="ruth", email="dara@example.org")
    hands.ask(case)
    yield 130, 20
    told = answers(
        "Dara Lindholm",
        "1979-11-20",
        scar("s1", "shin", "left", "2019", kind="flat_pale", cause="injury"),
        fainting="yes",
        latex_allergy="yes",
    )
    screening = hands.fill_in(case, told)
    yield 128, 10
    hands.decide(screening, "accepted", by="ruth")
    zone = hands.zone(
        case,
        by="ruth",
        label="Shin",
        site="shin",
        side="left",
        scar_kind="flat_pale",
        cause="injury",
        happened="2019",
        declared=["s1"],
    )
    yield 121, 13
    hands.photo(zone, "shin before", "before", by="ruth")
    hands.sign(case, [zone], by="ruth", record_photos=True)
    if not hands.mix(zone, layer=1, by="ruth"):
        hands.own_mix(zone, "Sand over bone", {"tone 2": 9, "tone 1": 3}, layer=1, by="ruth")
    session = chair.start(hands, case, [zone], by="ruth")
    chair.tap(
        hands,
        session,
        zone,
        {
            "device": "Pen 2",
            "device_setting": "6",
            "hang_mm": 1,
            "passes": 1,
            "first_dots": "too_strong",
            "bleeding": 1,
            "redness": 2,
            "sensitivity": 5,
            "note": "Held strongly over the bone; went lighter after the first dots.",
        },
        by="ruth",
    )
    chair.finish(hands, session, by="ruth")
    hands.photo(zone, "shin fresh 1", "fresh", by="ruth", measured=False)
    yield 36, 11
    hands.photo(zone, "shin settled 1", "settled", by="tomas")
    hands.judge(
        zone,
        by="tomas",
        grade="fair",
        grade_second_light="fair",
        seen="in_person",
        visibility=5,
        satisfaction=6,
        next_step="another_session",
    )
    yield 4, 13
    hands.sign(case, [zone], by="ruth")
    if not hands.mix(zone, layer=2, by="ruth"):
        hands.own_mix(zone, "Sand, second layer", {"tone 2": 10, "tone 1": 2}, layer=2, by="ruth")
    session = chair.start(hands, case, [zone], by="ruth")
    chair.tap(
        hands,
        session,
        zone,
        {
            "device": "Pen 2",
            "device_setting": "6",
            "hang_mm": 1,
            "passes": 1,
            "first_dots": "holding",
            "bleeding": 0,
            "redness": 1,
            "sensitivity": 4,
        },
        by="ruth",
        techniques=("dots", "mixed_dots"),
    )
    chair.finish(hands, session, by="ruth", minutes=60)
    hands.photo(zone, "shin fresh 2", "fresh", by="ruth", measured=False)
    yield 0, 7
    photo = hands.photo(zone, "shin day 4", "check_in", by="ruth", measured=False)
    course = hands.course(case)
    quiz: dict[str, Answer] = {
        "breathing": "no",
        "collapse": "no",
        "fever": "no",
        "spreading": "no",
        "hotter": "no",
        "pus": "no",
        "hives": "no",
        "bleeding": "no",
        "not_settling": "not sure",
        "weeping": "no",
        "raw": "no",
    }
    with hands.service.database.write() as db:
        healing.check_in(
            db,
            db.get_one(Course, course.id),
            day_number=4,
            answers=quiz,
            words="It is still a bit pink at one end. Is that all right?",
            photo_id=photo.id if photo else None,
            by=Actor("client", case.client_id),
        )


def ready_to_judge(hands: Hands) -> Iterator[Step]:
    """One zone has settled and waits for its verdict; the other has not been worked on yet."""
    yield 96, 9
    case = hands.case(
        "Ilse Fennimore-Castellanos", "1992-07-15", "Tummy and hip", lead="tomas", email="ilse@example.org"
    )
    hands.ask(case)
    yield 95, 21
    told = answers(
        "Ilse Fennimore-Castellanos",
        "1992-07-15",
        scar("s1", "abdomen", "left", "2020-09", kind="stretch_pale", cause="stretching"),
        scar("s2", "hip", "left", "2022-02", kind="flat_pale", cause="operation"),
    )
    screening = hands.fill_in(case, told)
    yield 93, 15
    hands.decide(screening, "accepted", by="tomas")
    tummy = hands.zone(
        case,
        by="tomas",
        label="Tummy",
        site="abdomen",
        side="left",
        scar_kind="stretch_pale",
        cause="stretching",
        happened="2020-09",
        declared=["s1"],
    )
    hip = hands.zone(
        case,
        by="tomas",
        label="Hip",
        site="hip",
        side="left",
        scar_kind="flat_pale",
        cause="operation",
        happened="2022-02",
        declared=["s2"],
    )
    yield 84, 10
    hands.photo(tummy, "tummy before", "before", by="tomas")
    hands.sign(case, [tummy, hip], by="tomas", record_photos=True)
    if not hands.mix(tummy, layer=1, by="tomas"):
        hands.own_mix(tummy, "Honey and sand", {"tone 3": 6, "tone 2": 6}, layer=1, by="tomas")
    session = chair.start(hands, case, [tummy], by="tomas")
    chair.tap(
        hands,
        session,
        tummy,
        {
            "device": "Pen 1",
            "device_setting": "7",
            "hang_mm": 1.4,
            "passes": 2,
            "first_dots": "holding",
            "bleeding": 0,
            "redness": 2,
            "sensitivity": 3,
        },
        by="tomas",
        techniques=("dots", "cross_hatch"),
        used=("needle 7", "antiseptic", "film"),
    )
    chair.finish(hands, session, by="tomas", minutes=150)
    hands.photo(tummy, "tummy fresh 1", "fresh", by="tomas", measured=False)
    yield 1, 16
    hands.photo(tummy, "tummy settled 1", "settled", by="ruth")
