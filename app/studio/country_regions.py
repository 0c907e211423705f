"""Parts of countries with rules of their own: only what a source says; for the rest, "check locally".

Records asked for: local laws as collected in the project's trade facts (regulation). Nothing here is complete.
"""

from app.studio.country_parts import CHECK_LOCALLY, Region

_UNKNOWN = "Nothing is known to us. Check locally."

_UK_KNOWN: dict[str, tuple[str, str]] = {
    "ENG": ("Register yourself and your premises with the council, whose byelaws apply. This includes skin colouring "
            "that does not last.", "Local Government (Miscellaneous Provisions) Act 1982"),
    "SCT": ("A licence is needed. Its national conditions ask for information to the client, consent and records.",
            "Scottish licensing, in force from 1 April 2006"),
    "WLS": ("A licence for each person and an approved premises, for 3 years; a course in infection control.",
            "Welsh licensing, in force from 29 November 2024"),
    "NIR": ("The age rule stands in an order of its own. Check locally.", CHECK_LOCALLY),
}  # fmt: skip
_US_KNOWN: dict[str, tuple[str, str]] = {
    "TN": ("Records for 2 years; for a minor a copy until two years after the 18th birthday.", "Tennessee rules"),
    "IN": ("One county asks for records for 2 years. Check your county.", "an Indiana county code"),
    "NM": ("Albuquerque asks for records for 3 years. Check your city or county.", "Albuquerque city code"),
    "AZ": ("Sedona asks for records for 3 years. Check your city or county.", "Sedona city code"),
}
_CA_KNOWN: dict[str, tuple[str, str]] = {
    "ON": ("Toronto asks for a record of each client (name, address, phone, date, kind of work, artist) for 3 years, "
           "the last year of them on the premises. Elsewhere: check locally.", "Toronto Public Health"),
}  # fmt: skip
_AU_KNOWN: dict[str, tuple[str, str]] = {
    "QLD": ("A log of procedures for each calendar year, kept on the premises for 3 years: dates, artist and licence "
            "number, amount and way of payment, receipt number. The page that says so did not name its state, which "
            "is probably this one: check locally.", "a page of an Australian state"),
}  # fmt: skip

_UK = "ENG England, SCT Scotland, WLS Wales, NIR Northern Ireland"
_STATES = (
    "AL Alabama, AK Alaska, AZ Arizona, AR Arkansas, CA California, CO Colorado, CT Connecticut, DE Delaware, "
    "DC District of Columbia, FL Florida, GA Georgia, HI Hawaii, ID Idaho, IL Illinois, IN Indiana, IA Iowa, "
    "KS Kansas, KY Kentucky, LA Louisiana, ME Maine, MD Maryland, MA Massachusetts, MI Michigan, MN Minnesota, "
    "MS Mississippi, MO Missouri, MT Montana, NE Nebraska, NV Nevada, NH New Hampshire, NJ New Jersey, "
    "NM New Mexico, NY New York, NC North Carolina, ND North Dakota, OH Ohio, OK Oklahoma, OR Oregon, "
    "PA Pennsylvania, RI Rhode Island, SC South Carolina, SD South Dakota, TN Tennessee, TX Texas, UT Utah, "
    "VT Vermont, VA Virginia, WA Washington, WV West Virginia, WI Wisconsin, WY Wyoming"
)
_PROVINCES = (
    "AB Alberta, BC British Columbia, MB Manitoba, NB New Brunswick, NL Newfoundland and Labrador, NS Nova Scotia, "
    "NT Northwest Territories, NU Nunavut, ON Ontario, PE Prince Edward Island, QC Quebec, SK Saskatchewan, YT Yukon"
)
_TERRITORIES = (
    "ACT Australian Capital Territory, NSW New South Wales, NT Northern Territory, QLD Queensland, SA South Australia, "
    "TAS Tasmania, VIC Victoria, WA Western Australia"
)


def _regions(listed: str, known: dict[str, tuple[str, str]]) -> tuple[Region, ...]:
    named = [item.split(" ", 1) for item in listed.split(", ")]
    return tuple(Region(code, name, *known.get(code, (_UNKNOWN, CHECK_LOCALLY))) for code, name in named)


UNITED_KINGDOM = _regions(_UK, _UK_KNOWN)
UNITED_STATES = _regions(_STATES, _US_KNOWN)
CANADA = _regions(_PROVINCES, _CA_KNOWN)
AUSTRALIA = _regions(_TERRITORIES, _AU_KNOWN)
