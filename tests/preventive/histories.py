"""Random animals with random histories, for whatever must hold for every one of them."""

from datetime import date, timedelta

from hypothesis import strategies as st

from preventive.dates import PartialDate, Precision, Span, Unit
from preventive.facts import (
    Animal,
    Answer,
    Birth,
    Decline,
    Deferral,
    Dose,
    DoseSource,
    History,
    Hold,
    OwnDate,
    ProductKind,
    Route,
    Species,
    Supply,
    TestResult,
    Treatment,
    VaccineProduct,
)
from tests.preventive.build import under

ON = date(2026, 2, 1)
ANTIGENS = {
    Species.DOG: ["CDV", "CAV-2", "CPV", "CPiV", "Leptospira", "Bordetella", "Borrelia", "Rabies"],
    Species.CAT: ["FPV", "FHV-1", "FCV", "FeLV", "Rabies"],
}
RESULTS = ["heartworm_ag", "heartworm_mf", "faecal", "tickborne", "felv_ag", "fiv_ab"]
ROUTES = [Route.SUBCUTANEOUS, Route.INTRANASAL, Route.ORAL]
PAUSED = ["dog_core", "rabies", "dog_leptospira", "Leptospira", "cat_core", "cat_leukaemia", "dog_heartworm"]


def doses(species, born_on, months=(12, 36)):
    product = st.builds(
        VaccineProduct, kind=st.sampled_from(ProductKind), licensed_months=st.sampled_from(months)
    )
    return st.builds(
        Dose,
        id=st.uuids().map(str),
        antigens=st.sets(st.sampled_from(ANTIGENS[species]), min_size=1).map(lambda s: tuple(sorted(s))),
        given=st.builds(PartialDate, st.dates(born_on, ON), st.sampled_from(Precision)),
        product=product,
        route=st.sampled_from(ROUTES),
        source=st.sampled_from(DoseSource),
        proof=st.booleans(),
        lot=st.sampled_from(["L1", ""]),
    )


def supplies(born_on):
    """Also one that begins in some days: it went home today."""
    return st.builds(
        Supply,
        id=st.uuids().map(str),
        product=st.just("Invented"),
        interval=st.sampled_from([Span(1, Unit.MONTH), Span(30, Unit.DAY), Span(12, Unit.WEEK)]),
        count=st.integers(1, 12),
        first_on=st.dates(max(born_on, ON - timedelta(days=900)), ON + timedelta(days=40)),
        protects=st.sets(st.sampled_from(["heartworm", "intestinal", "fleas_ticks"]), min_size=1).map(
            frozenset
        ),
    )


def put_off(kind):
    return st.builds(
        lambda code, back, length: kind(
            code, ON - timedelta(days=back), ON + timedelta(days=length - back), "said so"
        ),
        st.sampled_from(PAUSED),
        st.integers(0, 300),
        st.integers(1, 400),
    )


def own_dates():
    return st.builds(
        lambda code, back, ahead: OwnDate(
            code, ON + timedelta(days=ahead - back), ON - timedelta(days=back), "Ada Brook", "said so"
        ),
        st.sampled_from(PAUSED),
        st.integers(0, 300),
        st.integers(0, 600),
    )


@st.composite
def animals(draw):
    asked = sorted({*under().rules.lifestyle})
    born_on = ON - timedelta(days=draw(st.one_of(st.integers(1, 500), st.integers(1, 6000))))
    answers = draw(st.lists(st.sampled_from(asked), max_size=6, unique=True))
    answered = st.tuples(
        st.sampled_from([True, False, None]), st.integers(0, 500).map(lambda back: ON - timedelta(days=back))
    )
    birth = draw(
        st.one_of(
            st.none(), st.builds(Birth, st.builds(PartialDate, st.just(born_on), st.sampled_from(Precision)))
        )
    )
    told = st.one_of(st.none(), st.dates(born_on, ON))
    return born_on, Animal(
        stage=draw(st.sampled_from(["", "", "", "senior", "end_of_life"])),
        lifespan_years=draw(st.one_of(st.none(), st.integers(8, 17).map(float))),
        acquired_on=draw(told),
        last_exposure_on=draw(told),
        weaned_on=draw(told),
        species=draw(st.sampled_from(Species)),
        birth=birth,
        conditions=frozenset(draw(st.sets(st.sampled_from(["pregnant", "immunosuppressed"]), max_size=1))),
        lifestyle=tuple(Answer(code, *draw(answered)) for code in answers),
        size=draw(st.sampled_from(["", "small", "large"])),
        chipped_on=draw(st.one_of(st.none(), st.just(born_on))),
    )


@st.composite
def lives(draw):
    """An animal and its patchy history: month-only dates, outside records, gaps, pauses."""
    born_on, animal = draw(animals())
    past = st.dates(max(born_on, ON - timedelta(days=1500)), ON)
    holds = st.builds(Hold, st.sampled_from(PAUSED), st.just(ON), st.just("a reaction"))
    return animal, History(
        doses=tuple(draw(st.lists(doses(animal.species, born_on), max_size=6))),
        tests=tuple(
            draw(
                st.lists(
                    st.builds(
                        TestResult,
                        id=st.uuids().map(str),
                        kind=st.sampled_from(RESULTS),
                        on=past,
                        positive=st.sampled_from([False, False, False, True]),
                    ),
                    max_size=3,
                )
            )
        ),
        supplies=tuple(draw(st.lists(supplies(born_on), max_size=3))),
        treatments=tuple(
            draw(st.lists(st.builds(Treatment, st.sampled_from(["deworming", "dental"]), past), max_size=2))
        ),
        exams=tuple(draw(st.lists(past, max_size=2))),
        declines=tuple(draw(st.lists(put_off(Decline), max_size=1))),
        deferrals=tuple(draw(st.lists(put_off(Deferral), max_size=1))),
        holds=tuple(draw(st.lists(holds, max_size=1))),
        own_dates=tuple(draw(st.lists(own_dates(), max_size=2))),
    )
