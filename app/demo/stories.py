"""Six made-up clients. Each story yields the day and hour of its next step, counted back from today, and takes it then."""

from collections.abc import Callable, Iterator

from app.demo import chair
from app.demo.answers import answers, scar
from app.demo.hands import Hands
from app.healing import actions as healing
from app.healing.aftercare import Answer
from app.healing.models import Course
from app.platform.audit import Actor

Step = tuple[int, int]  # days before today, hour of the studio's day
Story = Callable[[Hands], Iterator[Step]]


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
    hands.photo(zone, "forearm before", "before", by="tomas")
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
    hands.photo(zone, "forearm fresh 1", "fresh", by="tomas")
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
    hands.photo(zone, "shin fresh 1", "fresh", by="ruth")
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
    hands.photo(zone, "shin fresh 2", "fresh", by="ruth")
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
        label="Tummy, left side",
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
    hands.photo(tummy, "tummy fresh 1", "fresh", by="tomas")
    yield 1, 16
    hands.photo(tummy, "tummy settled 1", "settled", by="ruth")


def waiting_for_a_letter(hands: Hands) -> Iterator[Step]:
    """A graft in a field of radiotherapy: a clinician's letter is asked for first."""
    yield 21, 12
    case = hands.case("Bruno Achterberg", "1961-01-30", "Chest", lead="ruth", phone="+353 1 555 0144")
    hands.ask(case)
    yield 19, 10
    told = answers(
        "Bruno Achterberg",
        "1961-01-30",
        scar(
            "s1",
            "chest",
            "right",
            "2023-03",
            kind="flat_pale",
            cause="operation",
            radiotherapy="yes",
            radiotherapy_on="2023-06",
            graft="yes",
            graft_on="2023-03",
        ),
        blood_thinner="yes",
    )
    screening = hands.fill_in(case, told)
    yield 18, 9
    hands.decide(
        screening,
        "wait",
        by="ruth",
        reason="Letter of the surgeon and of the prescribing doctor asked for.",
        wait_until=hands.days_ago(-24),
    )
    zone = hands.zone(
        case,
        by="ruth",
        label="Chest",
        site="chest",
        side="right",
        scar_kind="flat_pale",
        cause="operation",
        happened="2023-03",
        is_irradiated=True,
        is_grafted=True,
        declared=["s1"],
    )
    hands.photo(zone, "chest before", "before", by="ruth")


def at_the_chair(hands: Hands) -> Iterator[Step]:
    """Cleared, signed, mixed: the first session is open today."""
    yield 33, 11
    case = hands.case("Amadi Wren", "1985-09-09", "Side of the tummy", lead="tomas", email="amadi@example.org")
    hands.ask(case)
    yield 32, 18
    told = answers(
        "Amadi Wren",
        "1985-09-09",
        scar("s1", "abdomen", "right", "2016", kind="flat_pale", cause="burn", burn="yes"),
        latex_allergy="yes",
    )
    screening = hands.fill_in(case, told)
    yield 31, 10
    hands.lift_letters(screening, "Letter of the burns clinic: settled, no objection.", by="tomas")
    hands.decide(screening, "accepted", by="tomas")
    zone = hands.zone(
        case,
        by="tomas",
        label="Tummy, right side",
        site="abdomen",
        side="right",
        scar_kind="flat_pale",
        cause="burn",
        happened="2016",
        declared=["s1"],
    )
    yield 24, 10
    hands.photo(zone, "side before", "before", by="tomas")
    hands.sign(case, [zone], by="tomas", record_photos=True, teaching=True)
    if not hands.mix(zone, layer=1, by="tomas"):
        hands.own_mix(zone, "Chestnut and honey", {"tone 4": 8, "tone 3": 4}, layer=1, by="tomas")
    yield 0, 9
    session = chair.start(hands, case, [zone], by="tomas")
    chair.tap(
        hands,
        session,
        zone,
        {"device": "Pen 1", "device_setting": "6.5", "hang_mm": 1.2, "first_dots": "holding"},
        by="tomas",
        used=("needle 3", "antiseptic"),
    )


def undecided(hands: Hands) -> Iterator[Step]:
    """A form that came in last night and waits for an artist; the case is the lead's alone."""
    yield 3, 15
    case = hands.case(
        "Juno Castell", "1999-12-05", "Forearm", lead="ruth", email="juno@example.org", is_restricted=True
    )
    hands.ask(case)
    yield 1, 22
    told = answers(
        "Juno Castell",
        "1999-12-05",
        scar("s1", "forearm", "left", "more_than_2_years", cause="prefer_not", self_harm="prefer_not"),
        isotretinoin="yes",
        isotretinoin_on=hands.days_ago(150).isoformat()[:7],
    )
    hands.fill_in(case, told)


STORIES: tuple[Story, ...] = (finished, settling, ready_to_judge, waiting_for_a_letter, at_the_chair, undecided)
