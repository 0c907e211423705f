"""Shipped rules about the person: they hold for every scar. Numbers are cautious defaults that the owner can change.

Nobody is ever told to stop a medicine. The studio asks for the treating clinician's letter and gives no advice on
antibiotic cover, since the sources conflict.
"""

from app.intake.questions import ANY_TEXT
from app.intake.rule_parts import (
    COMMON,
    CONDITIONS_UNKNOWN,
    HBA1C_UNKNOWN,
    MEMORY,
    TALK_WORDS,
    answered,
    dated,
    days,
    medical,
    months,
    says,
    setup,
    shipped,
)
from app.intake.rules import Proof, Rule, Trigger

_AGAIN = "The client answers again when it has changed."
_INFORMED: tuple[Proof, ...] = ("letter", "informed_decision")
_INFORMED_WORDS = (
    "A clinician's letter; or, where a letter was asked for and the clinician declined to give one, the client's "
    "informed decision, named and reasoned."
)
_LATER = "We are glad to plan this with you for later. Please tell us when things have changed."

AGE_RULES: tuple[Rule, ...] = (
    shipped("under_age", (53,), "Under the age the law sets",
            Trigger("date", date_key="born_on", pack_age="minimum_age"), "legal_bar",
            "Below the age of the country pack nobody is treated, whoever agrees.",
            "country pack; Great Britain: Tattooing of Minors Act 1969", ("LAW",),
            what_lifts="The birthday that the law names.",
            client_summary="The law sets an age for this work. We would be glad to see you then."),
    shipped("needs_guardian", (53,), "A guardian must agree",
            Trigger("date", date_key="born_on", pack_age="consent_age"), "stop_until_proof",
            "Below this age the person's own signature is not enough.",
            "country pack; France: Code de la santé publique R. 1311-11", ("LAW",), lifted_by=("guardian_consent",),
            what_lifts="Written consent of a person with parental authority, kept on file.",
            client_summary="Someone who is responsible for you has to agree in writing. Please bring them along."),
)  # fmt: skip

SKIN_RULES: tuple[Rule, ...] = (
    shipped("keloid_history_letter", (7,), "Keloid history: letter", answered(says("keloid_history")),
            "stop_until_proof", "About a third of people who form keloids have a close relative who does. A clinician "
            "should agree, and a test spot comes first.", "UK dermatologists' body via press; common practice",
            ("PB", "CP"), allows="patch", alert=medical("keloid_history", "Keloid history: test spot first.")),
    shipped("psoriasis_letter", (20,), "Psoriasis treated with tablets or injections: letter",
            answered(says("skin_conditions", "psoriasis"), says("psoriasis_tablets")), "stop_until_proof",
            "These medicines weaken the defence of the whole body; the prescriber should agree. Not a bar by itself.",
            "Clin Cosmet Investig Dermatol 2022", ("P",)),
    shipped("lupus_active", (24,), "Lupus, morphea or lichen planus is active",
            answered(says("skin_conditions", "lupus_like"), says("lupus_active")), "stop_until_proof",
            "Never while it is active, whoever agrees.", "Indian Dermatol Online J 2020; reviews", ("P",),
            lifted_by=(), what_lifts=_AGAIN, client_summary=_LATER),
    shipped("herpes_now", (14,), "Herpes not healed", dated("herpes_healed_on", says("herpes_now")), "wait",
            "Wait until it has healed completely and 14 days more.", f"{COMMON}; 14 days {MEMORY}", ("CP", "M"),
            wait=days(14)),
    shipped("herpes_before", (14,), "Herpes before", answered(says("herpes_before")), "caution",
            "It can come back with needling. The client may ask their prescriber about protection.", COMMON,
            client_summary="Cold sores can come back after work on the skin. Your doctor can help you prevent it.",
            alert=medical("herpes", "Herpes before: ask about today.")),
    shipped("shingles", (15,), "Shingles before", answered(says("shingles")), "stop_until_proof",
            "Shingles now or before: a clinician should agree.", COMMON, lifted_by=_INFORMED,
            what_lifts=_INFORMED_WORDS),
    shipped("shingles_now", (15,), "Shingles now", answered(says("shingles"), says("shingles_now")),
            "stop_until_proof", "Wait until the shingles have healed.", COMMON, lifted_by=(), what_lifts=_AGAIN,
            client_summary=_LATER),
    shipped("vitiligo_letter", (22,), "Vitiligo: letter", answered(says("skin_conditions", "vitiligo")),
            "stop_until_proof", "Needling can make vitiligo spread; the treating clinician should agree.",
            "Indian Dermatol Online J 2020", ("P",), together=CONDITIONS_UNKNOWN),
    shipped("sarcoidosis", (23,), "Sarcoidosis", answered(says("skin_conditions", "sarcoidosis")), "stop_until_proof",
            "Sarcoidosis can settle in tattooed skin. Often a no.", "reviews 2015 and 2018", ("P", "STD"),
            together=CONDITIONS_UNKNOWN),
    shipped("lupus_like", (24,), "Lupus, morphea or lichen planus", answered(says("skin_conditions", "lupus_like")),
            "stop_until_proof", "Never while it is active. One case ended in lasting dark colour.",
            "Indian Dermatol Online J 2020; reviews", ("P",), together=CONDITIONS_UNKNOWN),
    shipped("poor_healing", (27,), "Heals badly", answered(says("poor_healing")), "stop_until_proof",
            "Poor healing means poor colour and more scarring.", MEMORY, ("M",)),
)  # fmt: skip

HEALTH_RULES: tuple[Rule, ...] = (
    shipped("pregnant", (28,), "Pregnant", answered(says("pregnant")), "stop_until_proof",
            "Wait until after the birth.", "2015 review; hospital manual", ("P", "PB"),
            lifted_by=(), what_lifts=_AGAIN, client_summary=_LATER, sensitive=True),
    shipped("breastfeeding", (29,), "Breastfeeding", answered(says("breastfeeding")), "stop_until_proof",
            "Wait until feeding has ended; some add 1 to 3 months (from memory).", "common practice; 2015 review",
            ("CP", "P"), lifted_by=(), what_lifts=_AGAIN, client_summary=_LATER, sensitive=True),
    shipped("diabetes", (31,), "Diabetes", answered(says("diabetes")), "stop_until_proof",
            "Healing may be slow. Ask for the last HbA1c and its date: one source accepts below 8 and refuses from 9.",
            "hospital manual; 2018 review; common practice", ("PB", "P", "CP"), range_seen="HbA1c below 8; from 9 no",
            alert=medical("diabetes", "Diabetes: watch healing.")),
    shipped("hba1c_high", (31,), "Long-term sugar 9 or more", answered(says("hba1c_level", "9_or_more")),
            "stop_until_proof", "One source refuses from 9: wounds heal badly and become infected more often.",
            "one source of common practice", ("CP",), range_seen="7 best, below 8 accepted, from 9 no",
            what_lifts="A clinician's letter that gives a newer value below 9 and agrees to this work.",
            together=HBA1C_UNKNOWN),
    shipped("hba1c_between", (31,), "Long-term sugar 8 to 9", answered(says("hba1c_level", "8_to_9")), "caution",
            "Below 8 is accepted, 9 is refused: ask the clinician's letter to speak to it.",
            "one source of common practice", ("CP",), range_seen="7 best, below 8 accepted, from 9 no",
            together=HBA1C_UNKNOWN),
    *(shipped(id, (row,), title, answered(says(id)), "stop_until_proof", reason, source, tags,
              lifted_by=lifts, what_lifts=_INFORMED_WORDS if lifts == _INFORMED else
              "A letter from the treating clinician that agrees to this work.", alert=alert)
      for id, row, title, reason, source, tags, lifts, alert in (
          ("blood_thinner", 32, "Prescribed blood thinner",
           "More bleeding pushes pigment out. Never tell a client to stop it.", "2018 review; common practice",
           ("P", "CP"), ("letter",), medical("bleeding", "Bleeds more: short passes, pressure ready.")),
          ("bleeding", 34, "Bleeding disorder", "A no unless the clinician agrees.", "common practice; 2015 review",
           ("CP", "P"), ("letter",), medical("bleeding", "Bleeds more: short passes, pressure ready.")),
          ("heart", 35, "Heart at risk of infection",
           "Tattoos are discouraged in people at high risk. Sources conflict on antibiotics: give no advice.",
           "European cardiology guidance 2015 (as summarised); hospital manual", ("PB", "P"), ("letter",), None),
          ("pacemaker", 36, "Pacemaker or defibrillator", "The cardiology team should agree.", COMMON, ("CP",),
           ("letter",), setup("pacemaker", "Ask before using powered devices near the chest.")),
          ("blood_pressure", 37, "Blood pressure not controlled", "Wait until it is controlled.", COMMON, ("CP",),
           ("letter",), None),
          ("epilepsy", 38, "Epilepsy", "Ask how long free of fits: 6 to 12 months is asked (from memory).", COMMON,
           ("CP", "M"), ("letter",), setup("fits", "May have a fit: know the first aid, never alone.")),
          ("immune", 39, "Weak immune system", "Infection is likelier and healing slower.", "reviews 2015 and 2018",
           ("P", "STD"), ("letter",), None),
          ("liver_kidney", 43, "Liver or kidney disease", "Bleeding and healing may be changed.", COMMON, ("CP",),
           ("letter",), None),
          ("thyroid", 44, "Thyroid condition", "Ask whether it is under control.", COMMON, ("CP",), _INFORMED, None),
          ("mrsa", 45, "MRSA carriage", "Wait until a test is clear.", "hospital manual", ("PB",), ("letter",), None),
          ("steroids", 57, "Steroid tablets or injections", "They slow healing and thin the skin.", COMMON, ("CP",),
           ("letter",), None),
          ("bone_medicine", 59, "Bisphosphonate", "One source says no; ask the prescriber.", COMMON, ("CP",),
           _INFORMED, None),
      )),
    shipped("blood_infection", (40,), "HIV or hepatitis", answered(says("blood_infection")), "stop_until_proof",
            "A letter helps to keep the client safe. It is no ground for refusal by itself: standard precautions "
            "hold for everyone, and equality law may apply.",
            "US OSHA 1910.1030 (precautions for all); hospital manual; equality law from memory, unchecked",
            ("LAW", "PB", "M"), lifted_by=_INFORMED, what_lifts=_INFORMED_WORDS, sensitive=True),
    shipped("chemo_now", (41,), "Cancer treatment now", answered(says("chemo_now")), "stop_until_proof",
            "Wait until treatment has ended.", "common practice; public body", ("CP", "PB"), lifted_by=(),
            what_lifts=_AGAIN, client_summary=_LATER, sensitive=True),
    shipped("cancer_before_wait", (42,), "Cancer treatment ended lately",
            dated("cancer_before_on", says("cancer_before")), "wait", "The body needs time after treatment.",
            "common practice; public body", ("CP", "PB"), wait=months(6), range_seen="42 days to 6 months",
            sensitive=True),
    shipped("cancer_before_letter", (42,), "Cancer treatment before", answered(says("cancer_before")),
            "stop_until_proof", "The treating team should agree.", "common practice; public body", ("CP", "PB"),
            sensitive=True),
    shipped("ill", (46,), "Ill lately", dated("ill_on", says("ill")), "wait", "Well for 7 days first.", MEMORY, ("M",),
            wait=days(7)),
    shipped("vaccinated", (48,), "Vaccinated lately", dated("vaccinated_on", says("vaccinated")), "wait",
            "Keep a vaccine's effects and a skin reaction apart.", COMMON, wait=days(14), range_seen="14 days"),
    shipped("shingles_vaccine", (15, 48), "Shingles vaccine lately",
            dated("vaccinated_on", says("vaccinated"), says("shingles_vaccine")), "wait",
            "A month after a shingles vaccine.", COMMON, wait=months(1), range_seen="1 month"),
    shipped("fainting", (49,), "May faint", answered(says("fainting")), "caution", "Lie flat, go slowly, have water.",
            "hospital manual", ("PB",), alert=setup("may_faint", "May lie flat; extra time.")),
    shipped("mri_due", (72,), "MRI due", answered(says("mri_due")), "caution",
            "No need to wait was proven: 2 of 135 felt brief tingling. The client tells the radiographer.",
            "J Magn Reson Imaging 2002; Skin Res Technol 2018", ("P",), range_seen="1.5 % brief tingling",
            client_summary="If you have an MRI scan, tell the staff there that you have pigment in your skin."),
)  # fmt: skip

HOPE_RULES: tuple[Rule, ...] = (
    *(shipped(id, (50,), title, answered(condition), "talk",
              "Not a diagnosis. Impressions miss most people who suffer: surgeons noticed 2 of 43. Speak in private, "
              "plan a second visit before any work, and refer if it weighs heavily.",
              "JAMA Facial Plast Surg 2017; hospital manual", ("P", "PB"), sensitive=True, client_summary=TALK_WORDS,
              range_seen="9.7 % of 597 patients screened positive", wait=days(1),  # the second visit: another day
              what_lifts="A private talk and a second visit on another day before any work, noted as settled.")
      for id, title, condition in (
          ("mind_often", "Thoughts about it fill the day", says("mind_often")),
          ("held_back", "It keeps the client from living", says("held_back")),
          ("hard_time", "A very hard time just now", says("hard_time")),
          ("hopes_gone", "Hopes that nobody can ever see it", says("hope", "gone")),
      )),
)  # fmt: skip

MEDICINE_RULES: tuple[Rule, ...] = (
    shipped("isotretinoin", (54,), "Isotretinoin", dated("isotretinoin_on", says("isotretinoin")), "wait",
            "Wait 12 months; a clinician's letter may shorten it to 6. Two reviews found weak evidence for waiting "
            "but did not clear tattooing.", "drug insert; JAMA Dermatol 2017; J Cutan Aesthet Surg 2017; common "
            "practice", ("P", "CP"), wait=months(12), floor=months(6), range_seen="6 to 12 months",
            lifted_by=("letter",), what_lifts="Time; a letter may shorten the wait to 6 months."),
    shipped("antibiotics", (47,), "Antibiotics lately", dated("antibiotics_on", says("antibiotics")), "wait",
            "Infection over, and a week more.", f"{COMMON}; {MEMORY}", ("CP", "M"), wait=days(7),
            range_seen="3 days to 2 weeks"),
    shipped("light_medicine", (60,), "Medicine that makes sensitive to light", answered(says("light_medicine")),
            "caution", "More redness; stress sun protection.", MEMORY, ("M",)),
    *(shipped(f"read_{key}", (), title, answered(says(key, ANY_TEXT)), "caution",
              "The client wrote something in their own words. Read it before you decide.", COMMON)
      for key, title in (("health_other", "More about health"), ("medicines_other", "Other medicines"),
                         ("allergies_other", "Other allergies"), ("hopes_other", "Something to know"))),
)  # fmt: skip

ALLERGY_RULES: tuple[Rule, ...] = (
    shipped("metal_allergy", (74,), "Metal allergy", answered(says("metal_allergy")), "test_patch",
            "Labels must name nickel and chromium. A clear patch does not rule out a later reaction.",
            "Regulation (EU) 2020/2081 (REACH entry 75); patch: 24 h to 48 h common practice", ("LAW", "CP"),
            wait=days(2), range_seen="24 to 48 hours",
            alert=medical("metal_allergy", "Metal allergy: check labels for nickel and chromium.")),
    shipped("pigment_reaction", (74,), "Reacted to pigment before", answered(says("pigment_reaction")),
            "stop_until_proof", "A new reaction is likely and pigment cannot be taken out.", COMMON, allows="patch",
            alert=medical("pigment_reaction", "Reacted to pigment before.")),
    shipped("hair_dye_reaction", (75,), "Reacted to hair dye or black henna", answered(says("hair_dye_reaction")),
            "test_patch", "Cross-reactions are feared.", MEMORY, ("M",), wait=days(2), range_seen="24 to 48 hours"),
    shipped("patch_reacted", (74,), "Allergy patch reacted",
            Trigger("evidence", proof="allergy_patch", results=("reacted",)), "stop_until_proof",
            "The skin reacted to the patch.", COMMON, allows="patch",
            alert=medical("patch_reacted", "An allergy patch reacted.")),
    shipped("latex_allergy", (76,), "Latex", answered(says("latex_allergy")), "caution", "Set up without latex.",
            COMMON, ("CP", "STD"), alert=setup("latex", "Latex-free room.")),
    shipped("numbing_reaction", (77,), "No numbing", answered(says("numbing_reaction")), "caution",
            "No numbing products. Harms of strong or wrapped numbing: fits, heart rhythm, breathing.",
            "US FDA 2007, 2009, March 2024", ("PB",), range_seen="over-the-counter lidocaine 4 % at most",
            alert=setup("no_numbing", "No numbing products.")),
    shipped("adhesive_allergy", (78,), "Plasters or dressings", answered(says("adhesive_allergy")), "caution",
            "Use another dressing, no film.", "hospital manual", ("PB",),
            alert=setup("adhesive", "No adhesive film or plasters.")),
    shipped("antiseptic_allergy", (79,), "Antiseptic", answered(says("antiseptic_allergy")), "caution",
            "Ask which one, and use another.", MEMORY, ("M",),
            alert=setup("antiseptic", "Ask which skin cleaner to use.")),
    shipped("future_laser", (71,), "Laser later", Trigger("answer"), "caution",
            "White and skin-toned pigments can turn grey-black at once under a laser, and it may not go back.",
            "Dermatol Sinica 2001; Clin Exp Dermatol 2002", ("P", "CP"),
            client_summary="Skin-toned pigment can turn dark under a laser. Before any laser there, show your card.",
            alert=medical("future_laser", "No laser over treated skin without a test.")),
)  # fmt: skip

_CONTACT_ALERT = setup("contact", "Contact only as agreed: no messages left.")
CONTACT_RULES: tuple[Rule, ...] = tuple(
    shipped(id, (), title, answered(says(id)), "caution",
            "Agree with the client how they may be reached, and keep to it.", COMMON, alert=_CONTACT_ALERT,
            client_summary="We contact you only in the way that we agree with you.")
    for id, title in (("no_messages", "No messages may be left"), ("contact_care", "Somebody must not hear from us"))
)  # fmt: skip

PERSON_RULES = AGE_RULES + CONTACT_RULES + SKIN_RULES + HEALTH_RULES + HOPE_RULES + MEDICINE_RULES + ALLERGY_RULES
