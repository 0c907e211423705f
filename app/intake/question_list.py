"""What is asked at intake, topic by topic, in our own plain words (reading age about 11 to 12).

Each safety question is asked by itself, and nobody has to say how or why a scar came. A heading never names a place,
a cause or an illness, since someone else may see the screen. To add a question, add one entry: the form, the summary
and the version follow. A question that depends on another stands after it.
"""

from app.intake.question_list_scar import SCAR_QUESTIONS
from app.intake.question_parts import DATE_HINT, STILL, says, when, yes_no
from app.intake.questions import Option, Question, QuestionSet, Topic

CAUTION = (
    "These questions help us to decide when work is safe. They are not medical advice and do not replace your doctor. "
    "If you are worried about your health, please speak to a doctor or nurse."
)

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

_YOU = (
    Question("name", "you", "text", "What is your name?", "As it is written on your passport or ID card.",
             safety=False),
    Question("called", "you", "text", "What should we call you?", "If it is different.", required=False, safety=False),
    Question("pronouns", "you", "text", "Which pronouns do you use?", "Leave this empty if you like.", required=False,
             safety=False),
    Question("born_on", "you", "birth_date", "When were you born?", "Day, month and year."),
    # Both are asked so that a plain "no" is the common answer.
    Question("no_messages", "you", "yes_no", "Would it be a problem if we left you a message?",
             "A message never says what you come for."),
    Question("contact_care", "you", "yes_no", "Is there somebody who must not hear from us?",
             "We will then agree with you how to reach you."),
    Question("contact_name", "you", "text", "Who should we call if you feel unwell?", required=False, safety=False),
    Question("contact_phone", "you", "phone", "What is their phone number?", "With the country code if abroad.",
             required=False, safety=False),
)  # fmt: skip

_SKIN = (
    yes_no("skin", "keloid_history", "Have you, or a close relative, ever had a scar that grew bigger than the wound?",
            "This is called a keloid. A close relative is a parent, child, brother or sister."),
    Question("skin_conditions", "skin", "many", "Has a doctor said that you have any of these?", "Choose all that fit.",
       options=(
           Option("psoriasis", "Psoriasis"),
           Option("eczema", "Eczema"),
           Option("vitiligo", "Vitiligo (patches that lose their colour)"),
           Option("sarcoidosis", "Sarcoidosis"),
           Option("lupus_like", "Lupus, morphea or lichen planus"),
           Option("none", "None of these"),
       ), dont_know=True),
    yes_no("skin", "psoriasis_tablets", "Do you take tablets or have injections for psoriasis?", "",
           says("skin_conditions", "psoriasis")),
    yes_no("skin", "lupus_active", "Is your lupus, morphea or lichen planus active just now?", "",
           says("skin_conditions", "lupus_like")),
    yes_no("skin", "dark_marks", "Do spots, cuts or bites often leave a dark mark on your skin for months?"),
    yes_no("skin", "poor_healing", "Do your wounds heal badly, or do you have a condition of the connective tissue?"),
    yes_no("skin", "herpes_now", "Do you have a cold sore or a herpes blister now, or had one in the last 3 weeks?"),
    when("skin", "herpes_healed_on", "When had it healed completely?", says("herpes_now"), also=STILL),
    yes_no("skin", "herpes_before", "Have you had cold sores or herpes blisters before that?"),
    yes_no("skin", "shingles", "Have you ever had shingles?"),
    yes_no("skin", "shingles_now", "Do you have shingles now?", "", says("shingles")),
)  # fmt: skip

# Below 8 % accepted, 9 % and more refused: one source of the trade facts (row 31). The same values in mmol/mol by the
# IFCC-NGSP master equation, % = 0.0915 × mmol/mol + 2.15 (Clin Chem 2004; from memory, unchecked).
HBA1C_LEVELS = (
    ("under_8", "Under 8 % (under 64 mmol/mol)"),
    ("8_to_9", "8 % to under 9 % (64 to 74 mmol/mol)"),
    ("9_or_more", "9 % or more (75 mmol/mol or more)"),
)
_HEALTH = (
    yes_no("health", "diabetes", "Do you have diabetes?"),
    Question("hba1c_level", "health", "choice", "What was your last long-term sugar value (HbA1c)?",
             "It stands on the letter from your doctor or nurse.",
             options=tuple(Option(*item) for item in HBA1C_LEVELS), dont_know=True, ask_when=(says("diabetes"),)),
    Question("hba1c_on", "health", "date", "When was it measured?", DATE_HINT, dont_know=True, safety=False,
             ask_when=(says("diabetes"), says("hba1c_level", *(key for key, _ in HBA1C_LEVELS)))),
    Question("hba1c", "health", "text", "What was the number, if you know it?", "You can leave this empty.",
             ask_when=(says("diabetes"), says("hba1c_level", *(key for key, _ in HBA1C_LEVELS))), required=False,
             safety=False),
    yes_no("health", "heart", "Were you born with a heart problem, do you have a false heart valve, or has your "
           "heart ever been infected?"),
    yes_no("health", "pacemaker", "Do you have a pacemaker or another device in your chest?"),
    yes_no("health", "blood_pressure", "Is your blood pressure too high or too low in spite of treatment?"),
    yes_no("health", "bleeding", "Do you bleed for a long time, or have a condition of the blood?"),
    yes_no("health", "epilepsy", "Do you have epilepsy or have you had fits?"),
    yes_no("health", "immune", "Is your immune system weak, from an illness, a transplant or a medicine?"),
    yes_no("health", "blood_infection", "Do you have HIV, hepatitis B or hepatitis C?",
            "We work in the same clean way for everyone. This helps us to keep you safe.", withhold=True),
    yes_no("health", "chemo_now", "Are you having treatment for cancer now?", withhold=True),
    yes_no("health", "cancer_before", "Have you had treatment for cancer in the past?", withhold=True),
    when("health", "cancer_before_on", "When did that treatment end?", says("cancer_before")),
    yes_no("health", "liver_kidney", "Do you have a liver or kidney disease?"),
    yes_no("health", "thyroid", "Do you have a thyroid condition?"),
    yes_no("health", "mrsa", "Has a test shown that you carry MRSA, and nobody has told you that it is gone?"),
    yes_no("health", "fainting", "Have you ever fainted or panicked with needles or blood?"),
    Question("health_other", "health", "long_text", "Is there anything else about your health that we should know?",
       required=False),
)  # fmt: skip

_MEDICINES = (
    yes_no("medicines", "blood_thinner", "Do you take a medicine that thins your blood, given by a doctor?"),
    yes_no("medicines", "isotretinoin", "Have you taken acne tablets with isotretinoin in the last 2 years?"),
    when("medicines", "isotretinoin_on", "When did you take the last one?", says("isotretinoin"),
          also=(Option("still", "I still take them"),)),
    yes_no("medicines", "steroids", "Do you take steroid tablets or have steroid injections?"),
    yes_no("medicines", "antibiotics", "Have you taken antibiotics in the last month?"),
    when("medicines", "antibiotics_on", "When did you take the last one?", says("antibiotics"),
          also=(Option("still", "I still take them"),)),
    yes_no("medicines", "bone_medicine", "Do you take a medicine for weak bones (a bisphosphonate)?"),
    yes_no("medicines", "light_medicine", "Do you take a medicine that makes your skin sensitive to light?"),
    Question("medicines_other", "medicines", "long_text", "Which other medicines do you take?",
       "Also what you buy without a prescription.", required=False),
)  # fmt: skip

_ALLERGIES = (
    yes_no("allergies", "metal_allergy", "Does metal, such as cheap jewellery, give you a rash?"),
    yes_no("allergies", "pigment_reaction", "Has a tattoo or permanent make-up ever given you a rash or lumps?"),
    yes_no("allergies", "hair_dye_reaction", "Has hair dye or a black henna tattoo ever given you a rash?"),
    yes_no("allergies", "latex_allergy", "Are you allergic to latex (rubber gloves, balloons)?"),
    yes_no("allergies", "numbing_reaction", "Has a numbing cream or jab ever made you, or one of your family, ill?",
           "This includes a rare blood condition called methaemoglobinaemia."),
    yes_no("allergies", "adhesive_allergy", "Do plasters, dressings or creams give you a rash?"),
    yes_no("allergies", "antiseptic_allergy", "Are you allergic to a skin cleaner such as chlorhexidine or iodine?"),
    Question("allergies_other", "allergies", "long_text", "Do you have any other allergy?", required=False),
)  # fmt: skip

_FAMILY = (
    yes_no("family", "pregnant", "Are you pregnant, or could you be?", withhold=True),
    yes_no("family", "breastfeeding", "Are you breastfeeding?", withhold=True),
    yes_no("family", "planning_pregnancy", "Do you plan to become pregnant in the next year?", withhold=True),
)

_LATELY = (
    yes_no("lately", "ill", "Have you had a fever, a cold, flu or a bad stomach in the last 2 weeks?"),
    when("lately", "ill_on", "When did you last feel ill?", says("ill"), also=(Option("still", "I am still ill"),)),
    yes_no("lately", "vaccinated", "Have you had a vaccination in the last 2 months?"),
    when("lately", "vaccinated_on", "When was that?", says("vaccinated"), also=()),
    yes_no("lately", "shingles_vaccine", "Was it a shingles vaccine?", "", says("vaccinated")),
    yes_no("lately", "mri_due", "Will you have an MRI scan soon?"),
)  # fmt: skip

_HOPES = (
    Question("hope", "hopes", "choice", "What result would make you happy?",
       options=(
           Option("softer", "It stands out less"),
           Option("not_noticed", "People do not notice it at first"),
           Option("gone", "Nobody can see it at all, even close up"),
           Option("unsure", "I am not sure yet"),
       )),
    Question("mind_often", "hopes", "yes_no", "Do thoughts about how it looks fill more than an hour of most days?",
       dont_know=True, prefer_not=True),
    Question("held_back", "hopes", "yes_no", "Does it keep you from school, work, friends or going out?",
       dont_know=True, prefer_not=True),
    Question("hard_time", "hopes", "yes_no", "Are you going through a very hard time just now?",
       "We can talk about what would help, and take all the time you need.", dont_know=True, prefer_not=True),
    Question("hopes_other", "hopes", "long_text", "Is there anything you would like us to know?", required=False),
)  # fmt: skip

QUESTIONS: tuple[Question, ...] = (
    *_YOU, *_SKIN, *SCAR_QUESTIONS, *_HEALTH, *_MEDICINES, *_ALLERGIES, *_FAMILY, *_LATELY, *_HOPES,
)  # fmt: skip

QUESTION_SET = QuestionSet(TOPICS, QUESTIONS)
QUESTIONS_VERSION = QUESTION_SET.version
