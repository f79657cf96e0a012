"""Reading the feeding page's form: what can be read becomes choices, what cannot gets a sentence."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.http import QueryDict
from django.utils.dateparse import parse_date

from nutrition.choices import Choices
from nutrition.refusals import Aim

ROWS = 3
AIMS: dict[str, Aim] = {"keep": "keep", "lose": "lose", "gain": "gain"}


@dataclass(frozen=True)
class FoodLine:
    """One row of the bowl as typed."""

    code: str = ""
    share: str = ""


@dataclass(frozen=True)
class Asked:
    """The form as it was sent: choices as far as they can be read, errors by field, and what was typed."""

    choices: Choices
    errors: Mapping[str, str]
    typed: Mapping[str, str]
    bowl: tuple[FoodLine, ...]
    weigh_in_on: date | None
    until: str
    own_words: str


def read(data: QueryDict) -> Asked:
    """Never raises."""
    errors: dict[str, str] = {}
    bowl = _bowl(data)
    weigh_in_on = _day(data, errors)
    choices = Choices(
        aim=AIMS.get(data.get("aim", ""), "keep"),
        stage=data.get("stage", ""),
        target_weight_kg=_number(data, "target_weight_kg", errors),
        expected_adult_kg=_number(data, "expected_adult_kg", errors),
        energy=data.get("energy", ""),
        own_kcal=_number(data, "own_kcal", errors),
        shares=_shares(bowl, errors),
        treats_kcal=_number(data, "treats_kcal", errors) or 0.0,
        week=_whole(data, "week", errors),
        young=_whole(data, "young", errors),
        reason=data.get("reason", ""),
        answered=frozenset(data.getlist("answered")),
    )
    typed = {name: str(data.get(name, "")) for name in data}
    return Asked(
        choices=choices,
        errors=errors,
        typed=typed,
        bowl=(*bowl, *(FoodLine(),) * (ROWS - len(bowl))),
        weigh_in_on=weigh_in_on,
        until=data.get("until", ""),
        own_words=data.get("own_words", ""),
    )


def _bowl(data: QueryDict) -> tuple[FoodLine, ...]:
    rows = zip(data.getlist("food"), data.getlist("share"), strict=False)
    return tuple(FoodLine(code, share) for code, share in rows if code or share.strip())[:ROWS]


def _number(data: QueryDict, name: str, errors: dict[str, str]) -> float | None:
    text = str(data.get(name, "")).strip().replace(",", ".")
    if not text:
        return None
    try:
        number = float(text)
    except ValueError:
        errors[name] = "This is not a number."
        return None
    if not 0 <= number < 100_000:
        errors[name] = "This number cannot be."
        return None
    return number


def _whole(data: QueryDict, name: str, errors: dict[str, str]) -> int | None:
    number = _number(data, name, errors)
    return None if number is None else int(number)


def _day(data: QueryDict, errors: dict[str, str]) -> date | None:
    text = str(data.get("weigh_in_on", "")).strip()
    if not text:
        return None
    try:
        day = parse_date(text)
    except ValueError:
        day = None
    if day is None:
        errors["weigh_in_on"] = "This is not a day."
    return day


def _shares(bowl: tuple[FoodLine, ...], errors: dict[str, str]) -> dict[str, float]:
    """One food alone is all of it; of several the shares must make 100."""
    chosen = [row for row in bowl if row.code]
    if len(chosen) == 1 and not chosen[0].share.strip():
        return {chosen[0].code: 100.0}
    shares: dict[str, float] = {}
    for row in chosen:
        try:
            shares[row.code] = float(row.share.strip().replace(",", ".") or 0)
        except ValueError:
            errors["share"] = "A share is a number of percent."
    if shares and abs(sum(shares.values()) - 100) > 0.5 and "share" not in errors:
        errors["share"] = f"The shares make {sum(shares.values()):g} %, not 100."
    return shares
