"""What a label says: energy by Atwater and by NRC's four steps, dry matter, grams, cups, mixed bowls."""

from collections.abc import Sequence
from dataclasses import dataclass

from nutrition.explain import Line, line, shown
from nutrition.factors import Factors, Species
from nutrition.foods import Analysis, Food, Form, Unit
from nutrition.reasons import is_positive, refuse

KCAL_A_KG = "kcal/kg"


@dataclass(frozen=True, slots=True)
class Proximate:
    """A whole analysis in % as fed; `ash_assumed` where the label gave none."""

    protein_percent: float
    fat_percent: float
    fibre_percent: float
    moisture_percent: float
    ash_percent: float
    nfe_percent: float
    ash_assumed: bool


@dataclass(frozen=True, slots=True)
class FourSteps:
    """NRC's way, per 100 g as fed."""

    gross_kcal: float
    digestibility_percent: float
    digestible_kcal: float
    metabolisable_kcal: float
    ash_assumed: bool

    @property
    def kcal_per_kg(self) -> float:
        return self.metabolisable_kcal * 10


@dataclass(frozen=True, slots=True)
class Density:
    """kcal/kg as fed; `stated` on the label, or reckoned from the analysis (ash perhaps assumed)."""

    kcal_per_kg: float
    stated: bool
    ash_assumed: bool
    line: Line


@dataclass(frozen=True, slots=True)
class Serving:
    """One food and its share of the day's food **energy** (not of weight), in %."""

    food: Food
    share_percent: float


@dataclass(frozen=True, slots=True)
class Portion:
    """A day's amount of one food. `units` are cups, cans …; None where the label gives none."""

    food_code: str
    food_name: str
    share_percent: float
    energy_kcal: float
    grams: float
    unit: Unit | None
    units: float | None
    units_say: str
    line: Line


def proximate(analysis: Analysis, form: Form, factors: Factors) -> Proximate:
    """Fill in ash (assumed by form) and NFE = 100 − all other parts. `Refused` for parts that cannot be."""
    assumed = analysis.ash_percent is None
    ash = factors.value(f"ash.{form}") if analysis.ash_percent is None else analysis.ash_percent
    parts = {
        "Protein": analysis.protein_percent,
        "Fat": analysis.fat_percent,
        "Fibre": analysis.fibre_percent,
        "Moisture": analysis.moisture_percent,
        "Ash": ash,
    }
    for part, value in parts.items():
        if not 0 <= value <= 100:
            raise refuse("analysis_impossible", part=part, value=shown(value))
    # Labels state tenths: float noise of a label that sums to exactly 100 is no negative NFE.
    nfe = round(100 - sum(parts.values()), 9)
    if nfe < 0:
        raise refuse("nfe_negative", parts=shown(sum(parts.values())))
    return Proximate(
        protein_percent=analysis.protein_percent,
        fat_percent=analysis.fat_percent,
        fibre_percent=analysis.fibre_percent,
        moisture_percent=analysis.moisture_percent,
        ash_percent=ash,
        nfe_percent=nfe,
        ash_assumed=assumed,
    )


def atwater_kcal_per_kg(parts: Proximate, factors: Factors) -> float:
    """10 × (3.5 protein + 8.5 fat + 3.5 NFE), AAFCO PF9."""
    return 10 * (
        factors.value("atwater.protein") * parts.protein_percent
        + factors.value("atwater.fat") * parts.fat_percent
        + factors.value("atwater.nfe") * parts.nfe_percent
    )


def four_steps(parts: Proximate, species: Species, factors: Factors) -> FourSteps:
    """GE, digestibility, DE, ME per 100 g (NRC 2006)."""
    gross = (
        factors.value("nrc.ge.protein") * parts.protein_percent
        + factors.value("nrc.ge.fat") * parts.fat_percent
        + factors.value("nrc.ge.carbohydrate") * (parts.nfe_percent + parts.fibre_percent)
    )
    fibre_dm = in_dry_matter_percent(parts.fibre_percent, parts.moisture_percent)
    digestibility = (
        factors.value(f"nrc.{species}.digestibility") - factors.value(f"nrc.{species}.fibre") * fibre_dm
    )
    digestible = gross * digestibility / 100
    lost = factors.value(f"nrc.{species}.urine") * parts.protein_percent
    return FourSteps(gross, digestibility, digestible, digestible - lost, parts.ash_assumed)


def dry_matter_percent(moisture_percent: float) -> float:
    """100 − moisture; `Refused` where nothing dry is left."""
    if not 0 <= moisture_percent < 100:
        raise refuse("analysis_impossible", part="Moisture", value=shown(moisture_percent))
    return 100 - moisture_percent


def in_dry_matter_percent(as_fed: float, moisture_percent: float) -> float:
    """A value as fed, as a value in dry matter (same unit: %, or kcal/g)."""
    return as_fed * 100 / dry_matter_percent(moisture_percent)


def grams_per_1000_kcal(as_fed_percent: float, kcal_per_kg: float) -> float:
    """As-fed % × 10,000 / (kcal/kg)."""
    if not is_positive(kcal_per_kg):
        raise refuse("no_energy_density", food="This food")
    return as_fed_percent * 10_000 / kcal_per_kg


def density(food: Food, factors: Factors) -> Density:
    """The label's statement first, else modified Atwater from the analysis. `Refused` with neither."""
    if food.kcal_per_kg is not None:
        if not is_positive(food.kcal_per_kg):
            raise refuse("no_energy_density", food=food.name)
        stated = Line("Energy on the label", food.name, food.kcal_per_kg, KCAL_A_KG, "label", "A")
        return Density(food.kcal_per_kg, True, False, stated)
    if food.analysis is None:
        raise refuse("no_energy_density", food=food.name)
    parts = proximate(food.analysis, food.form, factors)
    value = atwater_kcal_per_kg(parts, factors)
    if not is_positive(value):
        raise refuse("no_energy_density", food=food.name)
    protein, fat, nfe = shown(parts.protein_percent), shown(parts.fat_percent), shown(parts.nfe_percent)
    per_protein, per_fat, per_nfe = (
        shown(factors.value(f"atwater.{part}")) for part in ("protein", "fat", "nfe")
    )
    how = f"10 × ({per_protein} × {protein} + {per_fat} × {fat} + {per_nfe} × {nfe})"
    note = f"ash not on the label, {shown(parts.ash_percent)} % assumed" if parts.ash_assumed else ""
    step = line(
        f"Energy reckoned, {food.name}",
        how,
        value,
        factors.factor("atwater.protein"),
        unit=KCAL_A_KG,
        note=note,
    )
    return Density(value, False, parts.ash_assumed, step)


def grams_a_day(energy_kcal: float, kcal_per_kg: float) -> float:
    """Grams as fed that hold this energy."""
    if not is_positive(kcal_per_kg):
        raise refuse("no_energy_density", food="This food")
    return energy_kcal / kcal_per_kg * 1000


def mix(food_energy_kcal: float, servings: Sequence[Serving], factors: Factors) -> tuple[Portion, ...]:
    """A day's portions of a bowl; `Refused` without food, or when the shares do not make 100 %."""
    if not servings:
        raise refuse("no_food")
    whole = sum(serving.share_percent for serving in servings)
    if abs(whole - 100) > 0.01 or any(serving.share_percent < 0 for serving in servings):
        raise refuse("shares_not_whole", whole=shown(whole))
    return tuple(_portion(food_energy_kcal * s.share_percent / whole, s, factors) for s in servings)


def _portion(energy_kcal: float, serving: Serving, factors: Factors) -> Portion:
    food, known = serving.food, density(serving.food, factors)
    grams = grams_a_day(energy_kcal, known.kcal_per_kg)
    units = energy_kcal / food.kcal_per_unit if food.unit and food.kcal_per_unit else None
    how = f"{shown(energy_kcal, 0)} / {shown(known.kcal_per_kg)} × 1000"
    step = Line(food.name, how, grams, "g/day", known.line.source, known.line.certainty, known.line.note)
    return Portion(
        food_code=food.code,
        food_name=food.name,
        share_percent=serving.share_percent,
        energy_kcal=energy_kcal,
        grams=grams,
        unit=food.unit if units is not None else None,
        units=units,
        units_say=units_in_words(units, food.unit) if units is not None and food.unit else "",
        line=step,
    )


def in_measures(portion: Portion) -> str:
    """What stands behind the grams: ", about 1½ cups", ", a little over ½ cup"; empty without a measure."""
    said = portion.units_say
    if not said:
        return ""
    return f", {said}" if said.startswith(("a little", "less")) else f", about {said}"


_QUARTERS = {0: "", 1: "¼", 2: "½", 3: "¾"}
_PLURALS: dict[Unit, str] = {"cup": "cups", "can": "cans", "pouch": "pouches", "piece": "pieces"}


LEANS = 0.05  # of a unit: less is as good as the quarter itself


@dataclass(frozen=True, slots=True)
class Quarters:
    """An amount to the next quarter of a unit: `number` ("" for less than one), one unit or `many`, and
    whether the amount is over it (1), under it (-1) or as good as it (0)."""

    number: str
    many: bool
    leaning: int


def in_quarters(units: float) -> Quarters:
    quarters = round(units * 4)
    whole, rest = divmod(quarters, 4)
    off = units - quarters / 4
    return Quarters(f"{whole or ''}{_QUARTERS[rest]}", quarters > 4, (off > LEANS) - (off < -LEANS))


def units_in_words(units: float, unit: Unit) -> str:
    """To the next quarter, and which way it leans: "a little over 1¾ cups"."""
    told = in_quarters(units)
    if not told.number:
        return f"less than ¼ {unit}"
    leaning = ("a little under ", "", "a little over ")[told.leaning + 1]
    return f"{leaning}{told.number} {_PLURALS[unit] if told.many else unit}"
