"""Vehicle identification numbers: what the 17 characters say, and how far that may be trusted.

Sources: 49 CFR 565.13 and 565.15 (United States), ISO 3779 and ISO 3780. Positions count from 1 throughout.
A VIN identifies somebody's property, so no message and no ``repr`` here contains one.
"""

import re
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

from snapline_service.errors import InvalidValue

Region = Literal["africa", "asia", "europe", "north_america", "oceania", "south_america"]
CheckDigit = Literal["matches", "does_not_match", "not_applicable"]

LENGTH = 17

# 49 CFR 565.15(c), Tables III and IV; position 9 holds the check digit itself and weighs nothing.
_ALPHABET = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ"
_VALUES = dict(zip(_ALPHABET, map(int, "012345678912345678123457923456789"), strict=True))
_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
_CHECK_CHARACTERS = "0123456789X"

# 49 CFR 565.15(d)(1), Table VII: thirty codes, so each comes round again after thirty years.
_YEAR_CODES = "ABCDEFGHJKLMNPRSTVWXY123456789"
_FIRST_YEAR = 1980

_NOT_IN_A_VIN = re.compile(r"[^A-HJ-NPR-Z0-9]", re.IGNORECASE | re.ASCII)
_PATTERN_POSITION = re.compile(r"[A-HJ-NPR-Z0-9]|\?|\[[A-HJ-NPR-Z0-9]+\]")


class InvalidVin(InvalidValue):
    """A text that cannot be a VIN: wrong length, or a character that no VIN uses."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """Why a well-formed VIN should not be taken as read, and what would settle it."""

    detail: str
    mend: str


@dataclass(frozen=True, slots=True)
class DecodedVin:
    """What a VIN says.

    ``vds`` is positions 4 to 9 and ``vis`` 10 to 17, as in ISO 3779. ``expected_check_digit`` is None where
    the rule does not apply. ``model_years`` is ascending and empty if position 10 is no year code;
    ``year_is_hint`` says that nobody obliges this maker to put the model year there. Whoever goes on to use
    the VIN passes ``doubt`` on to the person who typed it.
    """

    vin: str = field(repr=False)
    wmi: str
    vds: str
    vis: str = field(repr=False)
    region: Region
    check_digit: CheckDigit
    expected_check_digit: str | None
    model_years: tuple[int, ...]
    year_is_hint: bool

    @property
    def doubt(self) -> Doubt | None:
        """Set when the check digit rule applies and is not met: the VIN is probably mistyped."""
        if self.check_digit != "does_not_match":
            return None
        return Doubt(
            f"The VIN is probably mistyped: by its other characters, position 9 should be "
            f"{self.expected_check_digit}.",
            "Read the VIN again from the car. If it does read so, identify the car by make, model and year.",
        )


def decode(text: str, *, light_vehicle: bool | None = None) -> DecodedVin:
    """Read a VIN.

    Upper and lower case, spaces and hyphens are accepted. ``light_vehicle`` says whether this is a passenger
    car, or a multipurpose vehicle or truck up to 4536 kg gross; None if that is not known. Raises InvalidVin.
    A check digit that does not match is reported and not refused, so that the answer can name the remedy.
    """
    vin = _normalised(text)
    region = _region(vin)
    expected = check_digit(vin) if _has_check_digit(vin, region) else None
    outcome: CheckDigit = "not_applicable"
    if expected is not None:
        outcome = "matches" if vin[8] == expected else "does_not_match"
    north_american = region == "north_america"
    return DecodedVin(
        vin=vin,
        wmi=vin[:3],
        vds=vin[3:9],
        vis=vin[9:],
        region=region,
        check_digit=outcome,
        expected_check_digit=expected,
        model_years=_model_years(vin, position_7_decides=north_american and light_vehicle is True),
        # ISO 3779 only recommends the year in position 10; 49 CFR 565.15(d)(1) requires it.
        year_is_hint=not north_american,
    )


def weighted_sum(vin: str) -> int:
    """Sum of value times weight over the 17 positions of a normalised VIN (49 CFR 565.15(c))."""
    return sum(_VALUES[character] * weight for character, weight in zip(vin, _WEIGHTS, strict=True))


def check_digit(vin: str) -> str:
    """Compute what position 9 of a normalised VIN has to be: the sum modulo 11, with X for ten."""
    return _CHECK_CHARACTERS[weighted_sum(vin) % 11]


def check_pattern(pattern: str, *, pointer: str = "") -> None:
    """Refuse a VIN pattern that does not describe 17 positions.

    Each position is one character that stands for itself, ``?`` for any, or a set such as ``[ABC]``; all in
    upper case. Position 9 is normally ``?``, because the check digit differs from car to car. Raises
    InvalidValue.
    """
    positions, end = 0, 0
    while found := _PATTERN_POSITION.match(pattern, end):
        positions, end = positions + 1, found.end()
    if end < len(pattern):
        raise InvalidValue(
            f"Position {positions + 1} of the VIN pattern cannot be read.",
            pointer=pointer,
            mend="Write each position as a digit, a capital letter (not I, O, Q), ? or a set such as [ABC].",
        )
    if positions != LENGTH:
        raise InvalidValue(
            f"The VIN pattern describes {positions} positions instead of {LENGTH}.",
            pointer=pointer,
            mend="Describe all 17 positions; write ? where any character will do.",
        )


def matches(pattern: str, vin: str) -> bool:
    """Whether a normalised VIN has this pattern (see ``check_pattern``, which is applied first)."""
    return _compiled(pattern).fullmatch(vin) is not None


def _normalised(text: str) -> str:
    bare = "".join(text.split()).replace("-", "")
    if len(bare) != LENGTH:
        raise InvalidVin(
            f"A VIN has {LENGTH} characters; this has {len(bare)}.",
            pointer="/vin",
            mend="Give all of them. If the car has a shorter number, identify it by make, model and year.",
        )
    if wrong := _NOT_IN_A_VIN.search(bare):
        raise InvalidVin(
            f"Position {wrong.start() + 1} holds a character that no VIN uses.",
            pointer="/vin",
            mend="Read that position again; I, O and Q are never used, so look for 1, 0 or 9.",
        )
    return bare.upper()


def _region(vin: str) -> Region:
    """Region of the first character (ISO 3780).

    Two later allotments depart from the first table: 7F to 70 went to the United States while 7A to 7E stayed
    with New Zealand (from memory; the vPIC extract in the package ``vin`` bears it out), and H went to China
    (GB 16737-2019, from memory; the package ``vininfo`` says the same).
    """
    first = vin[0]
    if first in "12345" or (first == "7" and vin[1] not in "ABCDE"):
        return "north_america"
    if first in "67":
        return "oceania"
    if first in "890":
        return "south_america"
    if first < "H":
        return "africa"
    return "asia" if first < "S" else "europe"


def _has_check_digit(vin: str, region: Region) -> bool:
    """North America (49 CFR 565.15(c)) and China (GB 16735, annex A); elsewhere position 9 is free."""
    return region == "north_america" or vin[0] in "HL"


def _model_years(vin: str, *, position_7_decides: bool) -> tuple[int, ...]:
    """Model years that position 10 can mean.

    Light vehicles carry a digit in position 7 up to model year 2009 (49 CFR 565.25(b)) and a letter since
    (565.15(b)). Heavy vehicles, trailers and motorcycles are not bound by either.
    """
    age = _YEAR_CODES.find(vin[9])
    if age < 0:
        return ()
    early, late = _FIRST_YEAR + age, _FIRST_YEAR + age + len(_YEAR_CODES)
    if not position_7_decides:
        return early, late
    return (early,) if vin[6].isdigit() else (late,)


@lru_cache(maxsize=16384)
def _compiled(pattern: str) -> re.Pattern[str]:
    check_pattern(pattern)
    return re.compile(pattern.replace("?", "."))
