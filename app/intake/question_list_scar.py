"""What is asked about one scar: where it is, how it is now, what happened there before, and what may stay private."""

from app.intake.question_parts import AGO, DATE_HINT, NEAR, STILL, says, when, yes_no
from app.intake.questions import PREFER_NOT, Option, Question
from app.records.sites import SIDE_WORDS, SITES

_WHERE = (
    Question("scar.site", "scar_where", "choice", "Where on your body is it?",
       options=tuple(Option(site.code, site.words) for site in SITES)),
    Question("scar.side", "scar_where", "choice", "On which side?", "Think of your own left and right.",
       options=tuple(Option(side, words) for side, words in SIDE_WORDS.items()), safety=False),
    Question("scar.kind", "scar_where", "choice", "Which fits best?", "If two fit, choose the one you see most.",
       options=(
           Option("flat_pale", "Flat and paler than the skin around it"),
           Option("fine_line", "A thin line, as after an operation"),
           Option("sunken", "Sunken or very thin"),
           Option("pitted", "Small deep pits"),
           Option("stretch_pale", "Stretch marks, white or silver"),
           Option("stretch_red", "Stretch marks, still pink, red or purple"),
           Option("raised", "Raised and firm"),
           Option("dark", "Darker than the skin around it"),
           Option("lost_colour", "A patch that lost its colour"),
           Option("other", "Something else"),
       ), dont_know=True),
    Question("scar.cause", "scar_where", "choice", "How did it come about?", "You do not have to say.",
       options=(
           Option("operation", "An operation"),
           Option("injury", "A wound or injury"),
           Option("burn", "Heat, fire or chemicals"),
           Option("stretching", "Skin that stretched or grew"),
           Option("illness", "An illness or spots"),
           Option("other", "Something else"),
       ), dont_know=True, prefer_not=True),
    when("scar_where", "scar.happened", "When did it happen?"),
    Question("scar.words", "scar_where", "text", "What should we call it?",
             "Such as “my knee”. You can leave this empty.", required=False, safety=False),
)  # fmt: skip

_NOW = (
    yes_no("scar_now", "scar.red", "Is it pink, red or purple?"),
    yes_no("scar_now", "scar.itchy", "Does it itch or hurt?"),
    yes_no("scar_now", "scar.changed", "Has it changed in size or colour in the last 6 months?"),
    yes_no("scar_now", "scar.raised", "Is it raised above the skin around it?"),
    yes_no("scar_now", "scar.firm", "Does it feel hard when you press on it?"),
    yes_no("scar_now", "scar.numb", "Can you feel less there than on the skin around it?"),
    yes_no("scar_now", "scar.open", "Is the skin on or near it open, sore, infected or covered by a rash?", NEAR),
    yes_no("scar_now", "scar.acne", "Are there spots, or red and inflamed skin, on or near it?", NEAR),
    yes_no("scar_now", "scar.rim", "Is there a dark rim around it?"),
    yes_no("scar_now", "scar.mole", "Is there a mole, a birthmark or a spot nobody has looked at, on or beside it?"),
    yes_no("scar_now", "scar.veins", "Can you see fine red veins or a red birthmark in it?"),
    yes_no("scar_now", "scar.thin", "Is the skin there very thin, see-through or very uneven?"),
    yes_no("scar_now", "scar.sun", "Was it sunburnt, tanned or on a sunbed in the last 2 months?"),
    when("scar_now", "scar.sun_on", "When was the last time?", says("scar.sun"), also=()),
    yes_no("scar_now", "scar.tan_left", "Can you still see the tan or the redness there?", "", says("scar.sun")),
    yes_no("scar_now", "scar.self_tan", "Was self-tan or spray tan used there in the last month?"),
    when("scar_now", "scar.self_tan_on", "When was the last time?", says("scar.self_tan"), also=()),
    when("scar_now", "scar.psoriasis_clear", "Since when has the skin there been free of psoriasis?",
          says("skin_conditions", "psoriasis"),
          also=(*AGO, Option("still", "It is not clear yet"), Option("never", "It was never there"))),
    when("scar_now", "scar.eczema_clear", "Since when has the skin there been free of eczema?",
          says("skin_conditions", "eczema"),
          also=(*AGO, Option("still", "It is not clear yet"), Option("never", "It was never there"))),
    when("scar_now", "scar.vitiligo_stable", "Since when have your pale patches not grown or changed?",
          says("skin_conditions", "vitiligo"), also=(*AGO, Option("still", "They are still changing"))),
)  # fmt: skip

PROCEDURES = (
    ("laser", "Laser or light treatment"),
    ("peel", "A chemical peel"),
    ("needling", "Needling, without colour"),
    ("filler", "Filler"),
    ("botulinum", "Wrinkle injections (botulinum toxin)"),
    ("fat_transfer", "Fat moved into it"),
    ("steroid_injection", "Steroid injections into the scar"),
    ("tattoo_removal", "Removal of a tattoo or of pigment"),
)
_BEFORE = (
    yes_no("scar_before", "scar.burn", "Is it from a burn?"),
    yes_no("scar_before", "scar.graft", "Was skin moved there from another place (a graft or flap)?"),
    when("scar_before", "scar.graft_on", "When was that?", says("scar.graft")),
    yes_no("scar_before", "scar.graft_tight", "Is the moved skin tight or uneven?", "", says("scar.graft")),
    yes_no("scar_before", "scar.skin_cancer", "Was a skin cancer or a suspicious mole removed here?"),
    yes_no("scar_before", "scar.radiotherapy", "Did this part of your body have radiotherapy?"),
    when("scar_before", "scar.radiotherapy_on", "When did the radiotherapy end?", says("scar.radiotherapy"),
          also=(*AGO, *STILL)),
    yes_no("scar_before", "scar.keloid", "Has this scar ever grown bigger than the wound it came from?"),
    yes_no("scar_before", "scar.operated", "Has there been an operation there since it happened?"),
    when("scar_before", "scar.operated_on", "When was the last operation there?", says("scar.operated")),
    Question("scar.procedures", "scar_before", "many", "Has any of this been done on or near it in the last year?",
       NEAR + " Choose all that fit.", options=(*(Option(*item) for item in PROCEDURES), Option("none", "None")),
       dont_know=True),
    *(when("scar_before", f"scar.{key}_on", f"{words}: when was the last time?",
            says("scar.procedures", key), also=()) for key, words in PROCEDURES),
    yes_no("scar_before", "scar.laser_fractional", "Was it a “fractional” laser, which works in many tiny dots?", "",
           says("scar.procedures", "laser")),
    yes_no("scar_before", "scar.tattoo", "Is there a tattoo on it that has not healed yet?"),
    yes_no("scar_before", "scar.steroid_cream", "Did you use a steroid cream there in the last 2 months?"),
    when("scar_before", "scar.steroid_cream_on", "When did you last use it?", says("scar.steroid_cream"), also=STILL),
    yes_no("scar_before", "scar.retinoid_cream",
            "Did you use a vitamin A cream (retinoid), an acid or vitamin C there in the last 2 months?"),
    when("scar_before", "scar.retinoid_cream_on", "When did you last use it?", says("scar.retinoid_cream"), also=STILL),
)  # fmt: skip

# Asked only where the cause leaves it open; a stated operation or stretched skin is not questioned further.
_CARE_WHEN = (says("scar.cause", "injury", "burn", "other", "dont_know", PREFER_NOT),)
_CARE = (
    Question("scar.self_harm", "scar_care", "yes_no", "Did you hurt yourself here?",
       "We ask only so that we can go gently. It does not stop us from helping you.",
       dont_know=True, prefer_not=True, ask_when=_CARE_WHEN),
    Question("scar.last_time", "scar_care", "date", "When was the last time you hurt yourself?", DATE_HINT, options=AGO,
       dont_know=True, prefer_not=True, ask_when=(*_CARE_WHEN, says("scar.self_harm"))),
    Question("scar.support", "scar_care", "choice", "Do you have someone you can turn to?",
       "A friend, someone in your family, a doctor or a helper.",
       options=(Option("have", "Yes"), Option("have_not", "Not at the moment")),
       prefer_not=True, ask_when=(*_CARE_WHEN, says("scar.self_harm"))),
)  # fmt: skip
_MORE = (
    Question("scar.another", "scar_more", "yes_no", "Do you have another scar that you want treated?", safety=False),
)  # fmt: skip

SCAR_QUESTIONS: tuple[Question, ...] = (*_WHERE, *_NOW, *_BEFORE, *_CARE, *_MORE)
