"""What is asked at intake, topic by topic, in our own plain words (reading age about 11 to 12).

Each safety question is asked by itself, and nobody has to say how or why a scar came. A heading never names a place,
a cause or an illness, since someone else may see the screen. To add a question, add one entry: the form, the summary
and the version follow. A question that depends on another stands after it.
"""

from app.intake.questions import PREFER_NOT, YES, Condition, Option, Question, QuestionSet, Topic
from app.records.sites import SIDE_WORDS, SITES

CAUTION = (
    "These questions help us to decide when work is safe. They are not medical advice and do not replace your doctor. "
    "If you are worried about your health, please speak to a doctor or nurse."
)

AGO = (
    Option("more_than_2_years", "More than 2 years ago, not sure when"),
    Option("more_than_5_years", "More than 5 years ago, not sure when"),
)
STILL = (Option("still", "It is still going on"),)
DATE_HINT = "A year is enough if you do not know the day."
NEAR = "Near means within a hand’s width."

TOPICS: tuple[Topic, ...] = (
    Topic("you", "About you", "We keep this with your record. Only the people who work with you can see your answers."),
    Topic("skin", "Your skin", "You can always choose “I don’t know”. We will then find out together."),
    Topic("scar_where", "A scar you want treated", "Tell us about one scar at a time. You can add more.", repeats=True),
    Topic("scar_now", "How it is now", "Think of the last few weeks.", repeats=True),
    Topic(
        "scar_before",
        "What happened there before",
        "We ask each of these on its own, so that you do not have to tell us the whole story.",
        repeats=True,
    ),
    Topic(
        "scar_care",
        "Something you can keep private",
        "You do not need to say how or why. You can leave out what you do not want to say, and pause at any time.",
        repeats=True,
    ),
    Topic("scar_more", "Anything more to treat?", repeats=True),
    Topic("health", "Your health"),
    Topic("medicines", "Medicines and creams", "Never stop a medicine for us. Ask the person who gave it first."),
    Topic("allergies", "Allergies"),
    Topic("family", "Family", "Please answer as it is today. It is fine to prefer not to say."),
    Topic("lately", "The last few weeks"),
    Topic("hopes", "What you hope for", "There are no wrong answers. This helps us to look after you well."),
)

_Q = Question


def _yes_no(topic: str, key: str, wording: str, hint: str = "", *when: Condition, withhold: bool = False) -> Question:
    return _Q(key, topic, "yes_no", wording, hint, dont_know=True, prefer_not=withhold, ask_when=when)


def _when(topic: str, key: str, wording: str, *when: Condition, also: tuple[Option, ...] = AGO) -> Question:
    return _Q(key, topic, "date", wording, DATE_HINT, options=also, dont_know=True, ask_when=when)


def _is(key: str, *any_of: str) -> Condition:
    return Condition(key, any_of or (YES,))


_YOU = (
    _Q("name", "you", "text", "What is your name?", "As it stands on your identity document.", safety=False),
    _Q("called", "you", "text", "What should we call you?", "If it is different.", required=False),
    _Q("pronouns", "you", "text", "Which pronouns do you use?", "Leave this empty if you like.", required=False),
    _Q("born_on", "you", "birth_date", "When were you born?", "Day, month and year."),
    _Q("contact_name", "you", "text", "Who should we call if you feel unwell?", required=False),
    _Q("contact_phone", "you", "text", "What is their phone number?", "With the country code if abroad.",
       required=False),
)  # fmt: skip

_SKIN = (
    _yes_no("skin", "keloid_history", "Have you, or a close relative, ever had a scar that grew bigger than the wound?",
            "This is called a keloid. A close relative is a parent, child, brother or sister."),
    _Q("skin_conditions", "skin", "many", "Has a doctor said that you have any of these?", "Choose all that fit.",
       options=(
           Option("psoriasis", "Psoriasis"),
           Option("eczema", "Eczema"),
           Option("vitiligo", "Vitiligo (patches that lose their colour)"),
           Option("sarcoidosis", "Sarcoidosis"),
           Option("lupus_like", "Lupus, morphea or lichen planus"),
           Option("none", "None of these"),
       ), dont_know=True),
    _yes_no("skin", "dark_marks", "Do spots, cuts or bites often leave a dark mark on your skin for months?"),
    _yes_no("skin", "poor_healing", "Do your wounds heal badly, or do you have a condition of the connective tissue?"),
    _yes_no("skin", "herpes_now", "Do you have a cold sore or a herpes blister now, or had one in the last 3 weeks?"),
    _when("skin", "herpes_healed_on", "When had it healed completely?", _is("herpes_now"), also=STILL),
    _yes_no("skin", "herpes_before", "Have you had cold sores or herpes blisters before that?"),
    _yes_no("skin", "shingles", "Have you ever had shingles?"),
)  # fmt: skip

_WHERE = (
    _Q("scar.site", "scar_where", "choice", "Where on your body is it?",
       options=tuple(Option(site.code, site.words) for site in SITES)),
    _Q("scar.side", "scar_where", "choice", "On which side?", "Think of your own left and right.",
       options=tuple(Option(side, words) for side, words in SIDE_WORDS.items()), safety=False),
    _Q("scar.kind", "scar_where", "choice", "Which fits best?", "If two fit, choose the one you see most.",
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
    _Q("scar.cause", "scar_where", "choice", "How did it come about?", "You do not have to say.",
       options=(
           Option("operation", "An operation"),
           Option("injury", "A wound or injury"),
           Option("burn", "Heat, fire or chemicals"),
           Option("stretching", "Skin that stretched or grew"),
           Option("illness", "An illness or spots"),
           Option("other", "Something else"),
       ), dont_know=True, prefer_not=True),
    _when("scar_where", "scar.happened", "When did it happen?"),
    _Q("scar.words", "scar_where", "text", "What should we call it?", "Such as “my knee”. You can leave this empty.",
       required=False, safety=False),
)  # fmt: skip

_NOW = (
    _yes_no("scar_now", "scar.red", "Is it pink, red or purple?"),
    _yes_no("scar_now", "scar.itchy", "Does it itch or hurt?"),
    _yes_no("scar_now", "scar.changed", "Has it changed in size or colour in the last 6 months?"),
    _yes_no("scar_now", "scar.raised", "Is it raised above the skin around it?"),
    _yes_no("scar_now", "scar.open", "Is the skin on or near it open, sore, infected or covered by a rash?", NEAR),
    _yes_no("scar_now", "scar.acne", "Are there spots, or red and inflamed skin, on or near it?", NEAR),
    _yes_no("scar_now", "scar.rim", "Is there a dark rim around it?"),
    _yes_no("scar_now", "scar.mole", "Is there a mole, a birthmark or a spot nobody has looked at, on or beside it?"),
    _yes_no("scar_now", "scar.veins", "Can you see fine red veins or a red birthmark in it?"),
    _yes_no("scar_now", "scar.thin", "Is the skin there very thin, see-through or very uneven?"),
    _yes_no("scar_now", "scar.sun", "Was it sunburnt, tanned or on a sunbed in the last 2 months?"),
    _when("scar_now", "scar.sun_on", "When was the last time?", _is("scar.sun"), also=()),
    _yes_no("scar_now", "scar.self_tan", "Was self-tan or spray tan used there in the last month?"),
    _when("scar_now", "scar.self_tan_on", "When was the last time?", _is("scar.self_tan"), also=()),
    _when("scar_now", "scar.psoriasis_clear", "Since when has the skin there been free of psoriasis?",
          _is("skin_conditions", "psoriasis"),
          also=(*AGO, Option("still", "It is not clear yet"), Option("never", "It was never there"))),
    _when("scar_now", "scar.eczema_clear", "Since when has the skin there been free of eczema?",
          _is("skin_conditions", "eczema"),
          also=(*AGO, Option("still", "It is not clear yet"), Option("never", "It was never there"))),
    _when("scar_now", "scar.vitiligo_stable", "Since when have your pale patches not grown or changed?",
          _is("skin_conditions", "vitiligo"), also=(*AGO, Option("still", "They are still changing"))),
)  # fmt: skip

_PROCEDURES = (
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
    _yes_no("scar_before", "scar.burn", "Is it from a burn?"),
    _yes_no("scar_before", "scar.graft", "Was skin moved there from another place (a graft or flap)?"),
    _when("scar_before", "scar.graft_on", "When was that?", _is("scar.graft")),
    _yes_no("scar_before", "scar.skin_cancer", "Was a skin cancer or a suspicious mole removed here?"),
    _yes_no("scar_before", "scar.radiotherapy", "Did this part of your body have radiotherapy?"),
    _when("scar_before", "scar.radiotherapy_on", "When did the radiotherapy end?", _is("scar.radiotherapy"),
          also=(*AGO, *STILL)),
    _yes_no("scar_before", "scar.keloid", "Has this scar ever grown bigger than the wound it came from?"),
    _yes_no("scar_before", "scar.operated", "Has there been an operation there since it happened?"),
    _when("scar_before", "scar.operated_on", "When was the last operation there?", _is("scar.operated")),
    _Q("scar.procedures", "scar_before", "many", "Has any of this been done on or near it in the last year?",
       NEAR + " Choose all that fit.", options=(*(Option(*item) for item in _PROCEDURES), Option("none", "None")),
       dont_know=True),
    *(_when("scar_before", f"scar.{key}_on", f"{words}: when was the last time?",
            _is("scar.procedures", key), also=()) for key, words in _PROCEDURES),
    _yes_no("scar_before", "scar.tattoo", "Is there a tattoo on it that has not healed yet?"),
    _yes_no("scar_before", "scar.steroid_cream", "Did you use a steroid cream there in the last 2 months?"),
    _when("scar_before", "scar.steroid_cream_on", "When did you last use it?", _is("scar.steroid_cream"), also=STILL),
    _yes_no("scar_before", "scar.retinoid_cream",
            "Did you use a vitamin A cream (retinoid) or an acid peel product there in the last 2 months?"),
    _when("scar_before", "scar.retinoid_cream_on", "When did you last use it?", _is("scar.retinoid_cream"), also=STILL),
)  # fmt: skip

# Asked only where the cause leaves it open; a stated operation or stretched skin is not questioned further.
_CARE_WHEN = (_is("scar.cause", "injury", "burn", "other", "dont_know", PREFER_NOT),)
_CARE = (
    _Q("scar.self_harm", "scar_care", "yes_no", "Did you hurt yourself here?",
       "We ask only so that we can go gently. It does not stop us from helping you.",
       dont_know=True, prefer_not=True, ask_when=_CARE_WHEN),
    _Q("scar.last_time", "scar_care", "date", "When was the last time you hurt yourself?", DATE_HINT, options=AGO,
       dont_know=True, prefer_not=True, ask_when=(*_CARE_WHEN, _is("scar.self_harm"))),
    _Q("scar.support", "scar_care", "choice", "Do you have someone you can turn to?",
       "A friend, someone in your family, a doctor or a helper.",
       options=(Option("have", "Yes"), Option("have_not", "Not at the moment")),
       prefer_not=True, ask_when=(*_CARE_WHEN, _is("scar.self_harm"))),
)  # fmt: skip
_MORE = (
    _Q("scar.another", "scar_more", "yes_no", "Do you have another scar that you want treated?", safety=False),
)  # fmt: skip

_HEALTH = (
    _yes_no("health", "diabetes", "Do you have diabetes?"),
    _Q("hba1c", "health", "text", "What was your last long-term sugar value (HbA1c), and when?",
       "Leave this empty if you do not know it.", ask_when=(_is("diabetes"),), required=False),
    _yes_no("health", "heart", "Were you born with a heart problem, do you have an artificial valve, or did you ever "
            "have an infection of the heart?"),
    _yes_no("health", "pacemaker", "Do you have a pacemaker or another device in your chest?"),
    _yes_no("health", "blood_pressure", "Is your blood pressure too high or too low in spite of treatment?"),
    _yes_no("health", "bleeding", "Do you bleed for a long time, or have a condition of the blood?"),
    _yes_no("health", "epilepsy", "Do you have epilepsy or have you had fits?"),
    _yes_no("health", "immune", "Is your immune system weak, from an illness, a transplant or a medicine?"),
    _yes_no("health", "blood_infection", "Do you have HIV, hepatitis B or hepatitis C?",
            "We work in the same clean way for everyone. This helps us to keep you safe.", withhold=True),
    _yes_no("health", "chemo_now", "Are you having treatment for cancer now?", withhold=True),
    _yes_no("health", "cancer_before", "Have you had treatment for cancer in the past?", withhold=True),
    _when("health", "cancer_before_on", "When did that treatment end?", _is("cancer_before")),
    _yes_no("health", "liver_kidney", "Do you have a liver or kidney disease?"),
    _yes_no("health", "thyroid", "Do you have a thyroid condition?"),
    _yes_no("health", "mrsa", "Has a test shown that you carry MRSA, and nobody has told you that it is gone?"),
    _yes_no("health", "fainting", "Have you ever fainted or panicked with needles or blood?"),
    _Q("health_other", "health", "long_text", "Is there anything else about your health that we should know?",
       required=False),
)  # fmt: skip

_MEDICINES = (
    _yes_no("medicines", "blood_thinner", "Do you take a medicine that thins your blood, given by a doctor?"),
    _yes_no("medicines", "isotretinoin", "Have you taken acne tablets with isotretinoin in the last 2 years?"),
    _when("medicines", "isotretinoin_on", "When did you take the last one?", _is("isotretinoin"),
          also=(Option("still", "I still take them"),)),
    _yes_no("medicines", "steroids", "Do you take steroid tablets or have steroid injections?"),
    _yes_no("medicines", "antibiotics", "Have you taken antibiotics in the last month?"),
    _when("medicines", "antibiotics_on", "When did you take the last one?", _is("antibiotics"),
          also=(Option("still", "I still take them"),)),
    _yes_no("medicines", "bone_medicine", "Do you take a medicine for weak bones (a bisphosphonate)?"),
    _yes_no("medicines", "light_medicine", "Do you take a medicine that makes your skin sensitive to light?"),
    _Q("medicines_other", "medicines", "long_text", "Which other medicines do you take?",
       "Also what you buy without a prescription.", required=False),
)  # fmt: skip

_ALLERGIES = (
    _yes_no("allergies", "metal_allergy", "Does metal, such as cheap jewellery, give you a rash?"),
    _yes_no("allergies", "pigment_reaction", "Has a tattoo or permanent make-up ever given you a rash or lumps?"),
    _yes_no("allergies", "hair_dye_reaction", "Has hair dye or a black henna tattoo ever given you a rash?"),
    _yes_no("allergies", "latex_allergy", "Are you allergic to latex (rubber gloves, balloons)?"),
    _yes_no("allergies", "numbing_reaction", "Have you, or has someone in your family, reacted badly to numbing cream "
            "or injections?", "This includes a rare blood condition called methaemoglobinaemia."),
    _yes_no("allergies", "adhesive_allergy", "Do plasters, dressings or creams give you a rash?"),
    _yes_no("allergies", "antiseptic_allergy", "Are you allergic to a skin cleaner such as chlorhexidine or iodine?"),
    _Q("allergies_other", "allergies", "long_text", "Do you have any other allergy?", required=False),
)  # fmt: skip

_FAMILY = (
    _yes_no("family", "pregnant", "Are you pregnant, or could you be?", withhold=True),
    _yes_no("family", "breastfeeding", "Are you breastfeeding?", withhold=True),
    _yes_no("family", "planning_pregnancy", "Do you plan to become pregnant in the next year?", withhold=True),
)

_LATELY = (
    _yes_no("lately", "ill", "Have you had a fever, a cold, flu or a bad stomach in the last 2 weeks?"),
    _when("lately", "ill_on", "When did you last feel ill?", _is("ill"), also=(Option("still", "I am still ill"),)),
    _yes_no("lately", "vaccinated", "Have you had a vaccination in the last 2 months?"),
    _when("lately", "vaccinated_on", "When was that?", _is("vaccinated"), also=()),
    _yes_no("lately", "shingles_vaccine", "Was it a shingles vaccine?", "", _is("vaccinated")),
    _yes_no("lately", "mri_due", "Will you have an MRI scan soon?"),
)  # fmt: skip

_HOPES = (
    _Q("hope", "hopes", "choice", "What result would make you happy?",
       options=(
           Option("softer", "It stands out less"),
           Option("not_noticed", "People do not notice it at first"),
           Option("gone", "Nobody can see it at all, even close up"),
           Option("unsure", "I am not sure yet"),
       )),
    _Q("mind_often", "hopes", "yes_no", "Do thoughts about how it looks fill more than an hour of most days?",
       dont_know=True, prefer_not=True),
    _Q("held_back", "hopes", "yes_no", "Does it keep you from school, work, friends or going out?",
       dont_know=True, prefer_not=True),
    _Q("hard_time", "hopes", "yes_no", "Are you going through a very hard time just now?",
       "We can talk about what would help, and take all the time you need.", dont_know=True, prefer_not=True),
    _Q("hopes_other", "hopes", "long_text", "Is there anything you would like us to know?", required=False),
)  # fmt: skip

QUESTIONS: tuple[Question, ...] = (
    *_YOU, *_SKIN, *_WHERE, *_NOW, *_BEFORE, *_CARE, *_MORE,
    *_HEALTH, *_MEDICINES, *_ALLERGIES, *_FAMILY, *_LATELY, *_HOPES,
)  # fmt: skip

QUESTION_SET = QuestionSet(TOPICS, QUESTIONS)
QUESTIONS_VERSION = QUESTION_SET.version
