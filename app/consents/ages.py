"""Who may sign: the country's age of treatment is a bar, its age of consent asks for a guardian beside the client."""

from dataclasses import dataclass
from datetime import date

from app.studio.country import CountryPack


@dataclass(frozen=True)
class AgeRule:
    """What a client's age means for signing. Nothing is known where there is no birth date."""

    is_barred: bool = False
    needs_guardian: bool = False
    is_unknown: bool = False


def age_on(born_on: date, on: date) -> int:
    """Full years. Who was born on 29 February turns a year older on 1 March where the year has no such day."""
    return on.year - born_on.year - ((on.month, on.day) < (born_on.month, born_on.day))


def age_rule(born_on: date | None, on: date, pack: CountryPack) -> AgeRule:
    """Below the pack's minimum age nobody signs; from there to its age of consent a guardian signs, too."""
    if born_on is None:
        return AgeRule(is_unknown=True)
    age = age_on(born_on, on)
    if pack.minimum_age is not None and age < pack.minimum_age:
        return AgeRule(is_barred=True)
    return AgeRule(needs_guardian=age < pack.consent_age)
