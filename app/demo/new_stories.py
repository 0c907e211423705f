"""Made-up clients who have not been worked on yet: waiting, at the chair today, and undecided. See stories.py."""

from collections.abc import Iterator

from app.demo import chair
from app.demo.answers import answers, scar
from app.demo.hands import Hands, Step


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
    hands.ask_for_letter(screening, "Surgeon at the harbour hospital", by="ruth")
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
    yield 1, 11
    hands.file_letter(case, "Harbour hospital, surgery", ("To the studio.", "From our side nothing stands against it."))


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
        label="Tummy",
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
    visit = hands.visit(case, hands.today, "09:30", by="pia")
    yield 1, 19
    hands.answer_short(case, by="pia", evening=visit)
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
