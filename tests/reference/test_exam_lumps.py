"""Check facts of lumps (exam-L). The source stands beside each."""

import pytest

from exams.lump_places import Place, details, regions
from exams.lumps import (
    Lump,
    LumpError,
    doubling,
    grows,
    growth,
    lump_class,
    percent,
    response,
    sampling,
    scaled_volume_percent,
    size,
    unsaid_without_result,
)

ETTINGER = "Ettinger, WSAVA congress 2017"
THREE_TWO_ONE = "NC State oncology; Clinician's Brief round table 2016"


def case(name, *values, source):
    return pytest.param(*values, id=f"{name} {source}")


SITE = {"injection_site": True}


@pytest.mark.parametrize(
    ("lump", "letter", "words"),
    [
        case("exam-L01", Lump("dog", "flank", 12, 40), "T", "sample", source=ETTINGER),
        case("exam-L02", Lump("dog", "flank", 8, 90), "R", "", source=ETTINGER),
        case("exam-L01 sampled", Lump("dog", "flank", 12, 40, sampled=True), "R", "", source=ETTINGER),
        case("exam-L01 growing", Lump("dog", "flank", 5, 10, growing=True), "T", "growing", source=ETTINGER),
        case("exam-L04", Lump("cat", "flank", 15, 100, **SITE), "T", "3-2-1", source=THREE_TWO_ONE),
        case("exam-L05", Lump("cat", "flank", 25, 10, **SITE), "T", "3-2-1", source=THREE_TWO_ONE),
        case("exam-L05 at 2 cm", Lump("cat", "flank", 20, 10, **SITE), "R", "", source=THREE_TWO_ONE),
        case(
            "exam-L05 growing a month after",
            *(Lump("cat", "flank", 5, 40, growing=True, **SITE), "T", "3-2-1"),
            source=THREE_TWO_ONE,
        ),
        case("exam-L05 dog", Lump("dog", "flank", 25, 10, **SITE), "R", "", source=THREE_TWO_ONE),
        case(
            "exam-L07",
            Lump("cat", "gland", 4, mammary=True),
            "T",
            "mammary",
            source="Merck Veterinary Manual 2024",
        ),
        case(
            "sampled at any size",
            Lump("dog", "anal sac", 4),
            "T",
            "any size",
            source="Lea, Clinician's Brief 2023",
        ),
        case("any size", Lump("dog", "digit", 4), "T", "any size", source="common practice"),
        case(
            "sampled at any size",
            Lump("dog", "flank", 4, ulcerated=True),
            "T",
            "ulcerated",
            source="common practice",
        ),
    ],
)
def test_when_a_lump_is_sampled(lump, letter, words) -> None:
    told = " ".join(p.words for p in sampling(lump))
    assert (lump_class(lump), words in told) == (letter, True)
    assert bool(told) == bool(words)


def test_exam_l01_and_l07_name_the_code_to_move() -> None:
    """Sources: Ettinger, WSAVA congress 2017; Merck Veterinary Manual, mammary tumors, 2024."""
    assert sampling(Lump("dog", "flank", 12, 40))[0].code == "SKN-27"
    assert sampling(Lump("cat", "gland", 4, mammary=True))[0].code == "GUM-01"


def test_exam_l08_volume_of_an_ellipsoid() -> None:
    """Source: arithmetic, pi/6 x L x W x H."""
    assert size(30, 20, 15).volume_mm3 == pytest.approx(4712, abs=0.5)


def test_two_axes_give_an_estimate() -> None:
    """Source: common practice, half L x W squared."""
    assert size(20, 10).volume_mm3 == 1000
    assert size(20, 10).estimated


def test_exam_l09_a_quarter_more_diameter_is_twice_the_volume() -> None:
    """Source: arithmetic, cube root of 2 = 1.26."""
    assert growth(size(10, 10, 10), size(12.6, 12.6, 12.6), 30).volume_percent == pytest.approx(100, abs=0.1)


def test_exam_l10_twenty_percent_more_diameter_is_73_percent_more_volume() -> None:
    """Source: arithmetic."""
    assert percent(20, 24) == pytest.approx(20)
    assert scaled_volume_percent(20) == pytest.approx(72.8)


def test_the_worked_example_doubles_in_40_days() -> None:
    """Source: arithmetic, days x ln 2 / ln(V2 / V1)."""
    told = growth(size(12, 10, 8), size(16, 13, 10), 45)
    assert told.doubling_days == pytest.approx(40, abs=0.5)
    assert told.diameter_percent == pytest.approx(33, abs=0.5)


def test_the_worked_example_may_double_in_a_month_or_in_four() -> None:
    """Source: arithmetic, an error of 2 mm an axis (common practice) carried through the volumes' ratio.

    Relative errors: 2 mm of 12, 10, 8 and of 16, 13, 10 add as squares to 0.2096, the root is 0.4578;
    ln(2080 / 960) is 0.7732; 45 x ln 2 is 31.19.
    """
    told = doubling(size(12, 10, 8), size(16, 13, 10), 45)
    assert told.days == pytest.approx(40, abs=0.5)
    assert told.fastest_days == pytest.approx(31.19 / 1.2310, abs=0.1)
    assert told.slowest_days == pytest.approx(31.19 / 0.3154, abs=0.1)


def test_growth_smaller_than_its_error_has_no_slowest_doubling() -> None:
    """Source: arithmetic."""
    assert doubling(size(12, 10, 8), size(13, 11, 8), 45).slowest_days is None
    assert doubling(size(13, 11, 8), size(12, 10, 8), 45) is None


@pytest.mark.parametrize(
    ("before", "after", "grown"),
    [
        case("twenty percent", 20, 24, True, source="common practice"),
        case("less", 20, 23.9, False, source="common practice"),
        case("within the error", 10, 12.5, False, source="common practice"),
    ],
)
def test_growth_that_asks_for_a_sample(before, after, grown) -> None:
    assert grows(growth(size(before, before), size(after, after), 60)) is grown


@pytest.mark.parametrize(
    ("place", "species", "site"),
    [
        case(
            "withers", Place("cat-above", 0.5, 0.4, "withers", "midline"), "cat", True, source=THREE_TWO_ONE
        ),
        case("leg", Place("cat-left", 0.5, 0.4, "lower-leg-left", "left"), "cat", True, source=THREE_TWO_ONE),
        case("tail", Place("cat-left", 0.5, 0.4, "tail", "midline"), "cat", True, source=THREE_TWO_ONE),
        case("flank", Place("cat-left", 0.5, 0.4, "flank-left", "left"), "cat", True, source=THREE_TWO_ONE),
        case("ear", Place("cat-left", 0.5, 0.4, "ear-left", "left"), "cat", False, source=THREE_TWO_ONE),
        case("dog", Place("dog-left", 0.5, 0.4, "flank-left", "left"), "dog", False, source=THREE_TWO_ONE),
    ],
)
def test_a_cats_injection_sites(place, species, site) -> None:
    assert place.injection_site(species) is site


@pytest.mark.parametrize(
    ("sex", "has", "lacks"),
    [("male", "scrotum", "vulva"), ("female", "vulva", "scrotum"), ("", "vulva", "toe 2")],
)
def test_finer_places_go_by_sex_and_glands_stand_in_both(sex, has, lacks) -> None:
    """Source: the mammary chain in males is commonly missed, exam errors, common practice."""
    assert has in details("perineum", sex)
    assert lacks not in details("perineum", sex)
    assert {f"gland-dog-{n}-left" for n in range(1, 6)} <= set(regions()["dog-below"])
    assert "gland-cat-5-left" not in regions()["cat-below"]


def test_a_mammary_mass_over_its_size_says_so() -> None:
    """Source: common practice, over 3 cm in a dog, 2 cm in a cat."""
    words = [" ".join(p.words for p in sampling(Lump(s, "gland", mm, mammary=True))) for s, mm in BIG]
    assert ["worse outlook" in w for w in words] == [False, True, False, True]


BIG = [("dog", 30), ("dog", 31), ("cat", 20), ("cat", 21)]


def test_exam_l12_axes_out_of_order_are_sorted_and_said_so() -> None:
    """Source: common practice, longest first."""
    told = size(10, 8, 14)
    assert (told.length_mm, told.width_mm, told.height_mm, told.reordered) == (14, 10, 8, True)
    assert not size(14, 10, 8).reordered


@pytest.mark.parametrize(
    "text", ["A fatty lump.", "This is benign.", "A lipoma on the flank.", "It is not cancer."]
)
def test_exam_l13_a_letter_names_no_nature_without_a_result(text) -> None:
    """Source: common practice (looks and feel cannot tell)."""
    assert unsaid_without_result(text, has_result=False)
    assert not unsaid_without_result(text, has_result=True)
    assert not unsaid_without_result("There is a lump of 14 mm.", has_result=False)


def test_a_change_within_the_error_of_calipers_is_not_growth() -> None:
    """Source: common practice, under 3 mm in lumps under 20 mm."""
    assert growth(size(12, 10, 8), size(14, 10, 8), 30).within_error
    assert not growth(size(12, 10, 8), size(15, 10, 8), 30).within_error


def test_different_methods_are_not_compared() -> None:
    """Source: common practice."""
    with pytest.raises(LumpError):
        growth(size(12, 10, 8), size(16, 13, 10, method="estimate"), 30)


@pytest.mark.parametrize(
    ("change", "word"),
    [(21, "progressive"), (20, "stable"), (-30, "stable"), (-31, "partial response")],
)
def test_response_words(change, word) -> None:
    """Source: AAHA oncology guidelines, follow-up care."""
    assert response(change) == word


@pytest.mark.parametrize("axes", [(), (10,), (0, 5), (10, 700), (1, 2, 3, 4)])
def test_a_size_that_cannot_be_is_refused(axes) -> None:
    with pytest.raises(LumpError):
        size(*axes)
