"""Sentences in which what is said of one thing reaches, or does not reach, the next: a table beside `test_context`.

What each comes to follows from the convention (`narrations/README.md`); the sentences are common practice in
dictating an examination.
"""

from __future__ import annotations

import pytest

from exams.spoken import About, hear
from tests.exams.spoken.scoring import vocabulary
from tests.exams.spoken.test_context import told

SAID: dict[str, list[tuple[str, set[str]]]] = {
    "the front and the back of the lungs": [
        ("Lungs clear in front.", {"LUN.front left", "LUN.front right"}),
        ("Lungs: clear in front, crackles behind.", {"LUN.back left abnormal LUN-06", "LUN.back right abnormal LUN-06", "LUN.front left", "LUN.front right"}),
        ("Right lung clear front, middle and back.", {"LUN.back right", "LUN.front right", "LUN.middle right"}),
        ("Lungs clear. In front he's got sore elbows.", {"FLB.elbow left abnormal FLB-07", "FLB.elbow right abnormal FLB-07", "LUN.back left", "LUN.back right", "LUN.front left", "LUN.front right", "LUN.middle left", "LUN.middle right"}),
        ("Chest clear as far as the purring lets me.", {"LUN.back left partial", "LUN.back right partial", "LUN.front left partial", "LUN.front right partial", "LUN.middle left partial", "LUN.middle right partial"}),
    ],
    "the other side": [
        ("Right front leg: shoulder good, elbow good, wrist good. Left the same except the wrist's thick.", {"FLB.carpus left abnormal FLB-13", "FLB.carpus right", "FLB.elbow left", "FLB.elbow right", "FLB.shoulder left", "FLB.shoulder right"}),
        ("No swelling on the left elbow. On the right there's some.", {"FLB.elbow left", "FLB.elbow right abnormal FLB-06"}),
        ("No murmur on the left. On the right there's a soft one, two out of six.", {"HRT.murmur right abnormal HRT-01"}),
        ("Systolic murmur at the left apex, grade four of six. On the right side I hear it at grade three.", {"HRT.murmur left abnormal HRT-02", "HRT.murmur right abnormal HRT-02"}),
        ("Right elbow's fine, so are the shoulders and the wrists.", {"FLB.carpus left", "FLB.carpus right", "FLB.elbow right", "FLB.shoulder left", "FLB.shoulder right"}),
        ("Right hind knuckles and comes back slowly. Left hind the same.", {"NEU.placement LH abnormal NEU-13", "NEU.placement RH abnormal NEU-13"}),
        ("Mandibular nodes small. Popliteal nodes, the same.", {"LYM.mandibular left", "LYM.mandibular right", "LYM.popliteal left", "LYM.popliteal right"}),
        ("Right eye, the conjunctiva's red, with stringy mucus. Left, same again.", {"EYE.conjunctiva left abnormal EYE-04", "EYE.conjunctiva right abnormal EYE-04", "EYE.tears left abnormal EYE-02", "EYE.tears right abnormal EYE-02"}),
    ],
    "where a lump is": [
        ("A lump, three centimetres, on the left flank.", {"SKN.lumps left abnormal SKN-27"}),
        ("Two lumps: one over the ribs on the right, soft, and a skin tag on the left eyelid.", {"EYE.lids left abnormal EYE-16", "SKN.lumps right abnormal SKN-27"}),
        ("Lump on the right shoulder, five centimetres. There's one on his brisket too, soft.", {"SKN.lumps none abnormal SKN-27", "SKN.lumps right abnormal SKN-27"}),
        ("Lump on his chest, that's the fatty one, same size.", {"SKN.lumps none abnormal SKN-27"}),
        ("Left shoulder, same kind of thing, soft, moves, sixty by forty-five.", set()),
        ("No lumps on the left. On the right there's one behind the elbow, two centimetres.", {"SKN.lumps right abnormal SKN-27"}),
    ],
    "what is not heard or felt": [
        ("A murmur I don't hear.", {"HRT.murmur none"}),
        ("I can't hear a gallop.", {"HRT.extra-sounds none"}),
        ("Crackles I don't hear.", {"LUN.back left", "LUN.back right", "LUN.front left", "LUN.front right", "LUN.middle left", "LUN.middle right"}),
        ("Liver not past the rib edge, spleen not felt, I won't call that.", {"ABD.liver none", "ABD.spleen none not_examined"}),
        ("I've been through ears, toes and armpits and there's none.", set()),
    ],
    "what was taken back": [
        ("Left kidney, big... wait, no, that's the other one. Left kidney's a normal size, smooth.", {"ABD.kidney-left left"}),
        ("Submandibulars, left one's up. No, sorry, that's the salivary gland, nodes are normal on both sides.", {"LYM.mandibular left", "LYM.mandibular right"}),
        ("Forearm, hmm, she flinched, let me do that again. No, that was the nurse dropping something. Not painful.", {"FLB.radius-ulna left", "FLB.radius-ulna right"}),
        ("Lungs: crackles at the back on the left. Right back, I thought I heard some there as well, but that's her coat rubbing.", {"LUN.back left abnormal LUN-06"}),
        ("Spleen big, no, that's the stomach.", set()),
        ("Murmur, I don't think so.", {"HRT.murmur none"}),
        ("Fleas, let me comb him. No fleas.", {"SKN.fleas none"}),
    ],
    "what is bought, planned or pointed at is none": [
        ("Flea dirt over the rump. Plan. Rabies booster, flea and tick chews, see her in a year.", {"SKN.fleas none abnormal SKN-13"}),
        ("Jo says there's a sore on the tail. Looked. Skin's fine.", set()),
        ("No limp at all, tail up.", {"GEN.gait none"}),
    ],
    "a row of names": [
        ("I'm feeling under her jaw now, those glands are normal, and behind the knees, normal too.", {"LYM.mandibular left", "LYM.mandibular right", "LYM.popliteal left", "LYM.popliteal right"}),
        ("Nodes. Jaw, shoulder, behind the knee, all small.", {"LYM.mandibular left", "LYM.mandibular right", "LYM.popliteal left", "LYM.popliteal right", "LYM.prescapular left", "LYM.prescapular right"}),
        ("I've not looked at eyes, ears, or mouth today.", {"EAR.canal left not_examined", "EAR.canal right not_examined", "EAR.pinna left not_examined", "EAR.pinna right not_examined", "EYE.cornea left not_examined", "EYE.cornea right not_examined", "MTH.cheeks left not_examined", "MTH.cheeks right not_examined", "MTH.gums none not_examined", "MTH.palate none not_examined", "MTH.teeth none not_examined", "MTH.tongue none not_examined"}),
        ("Front legs: elbows stiff, both. Wrists fine. Rest of the front legs skipped.", {"FLB.carpus left", "FLB.carpus right", "FLB.elbow left abnormal FLB-08", "FLB.elbow right abnormal FLB-08", "FLB.gait left not_examined", "FLB.gait right not_examined", "FLB.shoulder left not_examined", "FLB.shoulder right not_examined"}),
        ("Paw placement normal, all four.", {"NEU.placement LF", "NEU.placement LH", "NEU.placement RF", "NEU.placement RH"}),
        ("Spine: no pain anywhere down to the tail.", {"SPN.lumbar none", "SPN.lumbosacral none", "SPN.thoracic none"}),
        ("Corneas clear. Pressures, I haven't done.", {"EYE.cornea left", "EYE.cornea right", "EYE.pressure left not_examined", "EYE.pressure right not_examined"}),
    ],
}  # fmt: skip


@pytest.mark.parametrize(
    ("said", "found"),
    [pytest.param(*row, id=f"{subject}: {row[0]}") for subject, rows in SAID.items() for row in rows],
)
def test_how_far_it_reaches(said: str, found: set[str]) -> None:
    assert told(said) == found


@pytest.mark.parametrize(
    ("said", "site"),
    [
        ("Right mammary chain: fourth gland has a pea in it.", "R4"),
        ("Mammary: second from the back on the left has a pea.", "L4"),
        ("Mammary: last gland on the right has a lump.", "R5"),
        ("Left mammary chain, gland four has a pea. Actually that's five.", "L5"),
        ("A second nodule in the left mammary chain.", ""),
        ("Mammary glands: a nodule on the left, same as last time.", ""),
    ],
)
def test_which_gland_is_counted_and_what_is_no_count(said: str, site: str) -> None:
    (found,) = hear(said, About("dog", "female-intact", 60), vocabulary()).proposals
    assert (found.structure, found.site) == ("GUM.mammary", site)
