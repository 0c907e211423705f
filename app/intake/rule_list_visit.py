"""Shipped rules about the short questions before a session; they say nothing where only the full form was answered."""

from app.intake.rule_parts import (
    CARE_WORDS,
    COMMON,
    TALK_WORDS,
    answered,
    days,
    says,
    shipped,
)
from app.intake.rules import Rule

_TODAY_WORDS = "We would like to see you on another day. You do not lose anything by telling us."

VISIT_RULES: tuple[Rule, ...] = (
    # 24 h; some 48 h. Some US states ask for a signed statement that the client is sober (law).
    shipped("visit_affected", (52,), "Alcohol or drugs in the last 24 hours", answered(says("visit_affected")),
            "stop_until_proof", "No work today: the skin bleeds more, and nobody can agree to it with a clear head.",
            "US state law (some states ask for a signed statement); common practice", ("LAW", "CP"), wait=days(1),
            range_seen="24 hours; some 48 hours", lifted_by=(), client_summary=_TODAY_WORDS,
            what_lifts="Another day, 24 hours after the last drink or drug; the questions are then asked again."),
    shipped("visit_diagnosis", (), "A new illness since the last form", answered(says("visit_diagnosis")),
            "stop_until_proof", "Speak with the client in private about what was found. Where it is one of the "
            "conditions of the full form, ask for the letter that it needs.", COMMON, lifted_by=("talk", "letter"),
            what_lifts="A talk, noted as settled, or a letter from the treating clinician.", sensitive=True,
            client_summary=TALK_WORDS),
    shipped("visit_medicine", (), "A new or changed medicine", answered(says("visit_medicine")), "talk",
            "Look it up and ask what it is for. Never tell a client to stop it; ask the prescriber where needed.",
            COMMON, what_lifts="A talk, noted as settled.",
            client_summary="Please tell us about your medicine when we meet. Go on taking it."),
    shipped("visit_went_wrong", (), "Something went wrong after the last session",
            answered(says("visit_healed", "wrong")), "talk",
            "Look at the skin and speak with the client before anything else is done.", COMMON,
            what_lifts="The skin was looked at and spoken about, noted as settled.",
            client_summary="We would like to look at your skin with you first."),
    shipped("visit_still_healing", (), "Still healing from the last session",
            answered(says("visit_healed", "healing")), "caution",
            "Look whether the skin is closed and calm. The earliest day of the next work counts as before.", COMMON,
            client_summary=CARE_WORDS),
)  # fmt: skip
