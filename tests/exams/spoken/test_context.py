"""What a sentence or two around decides: what is spoken of, what was not done, what is taken back or said again.

Texts made for the rules; what they mean is common practice in dictating an examination.
"""

from __future__ import annotations

import pytest

from exams.spoken import About, hear
from tests.exams.spoken.scoring import vocabulary

DOG = About("dog", "male-neutered", 60)


def told(said: str) -> set[str]:
    """ "structure side state codes" of each proposal; normal is not written out."""
    return {
        " ".join([p.structure, p.side, *([] if p.state == "normal" else [p.state]), *p.codes])
        for p in hear(said, DOG, vocabulary()).proposals
    }


# subject: what is said, and every proposal that it comes to
SAID: dict[str, list[tuple[str, set[str]]]] = {
    "what was not done is neither normal nor a finding": [
        ("Mouth: lips clean, moist pink gums.", {"MTH.lips left", "MTH.lips right", "VIT.mucous-membranes none", "GEN.gum-moisture none"}),
        ("Left hip full range; on the right, the same.", {"HLB.hip left", "HLB.hip right"}),
        ("Left hip comfortable, the Ortolani on that side is quiet.", {"HLB.hip left"}),
        ("Left elbow swollen, it doesn't bend all the way either.", {"FLB.elbow left abnormal FLB-06 FLB-08"}),
        ("Radius sound. He turned right around. Left humerus doesn't hurt.", {"FLB.humerus left"}),
        (
            "Neck and back we'll get to when he's sedated.",
            {f"{x} not_examined" for x in ("NEK.up none", "NEK.down none", "NEK.side left", "NEK.side right", "SPN.thoracic none", "SPN.lumbar none")},
        ),
        ("Membranes pale, or is that the lamp... no, they're pink.", {"VIT.mucous-membranes none"}),
        (
            "Right ear: flap supple, canal pink. Ditto the left, except the left canal has wax.",
            {"EAR.pinna right", "EAR.canal right", "EAR.pinna left", "EAR.canal left abnormal EAR-02"},
        ),
        ("Right ear: canal red, smells. Left one the same but doesn't smell.", {"EAR.canal right abnormal EAR-01", "EAR.odour right abnormal EAR-06", "EAR.canal left abnormal EAR-01", "EAR.odour left"}),
        ("Tongue pink, I didn't see beneath.", {"MTH.tongue none partial"}),
        ("Left retina flat. Right retina, no.", {"EYE.fundus left", "EYE.fundus right not_examined"}),
        ("Tartar, mild, on 208 only.", {"MTH.teeth left abnormal MTH-02"}),
        ("Tongue: the face of it is clean, I didn't get to the belly of it.", {"MTH.tongue none partial"}),
        ("Neither canal scoped.", {"EAR.canal left not_examined", "EAR.canal right not_examined"}),
        ("Left ear flap fine, the right one stayed down, not seen.", {"EAR.pinna left", "EAR.pinna right not_examined"}),
        ("Ear flaps fine. There's a whiff from the right.", {"EAR.pinna left", "EAR.pinna right", "EAR.odour right abnormal EAR-06"}),
        ("Down eleven percent of weight. Skin tents slow, five percent dry.", {"VIT.weight none abnormal VIT-19", "GEN.skin-turgor none abnormal GEN-13"}),
        ("Doppler one forty-eight, nudging up.", {"VIT.blood-pressure none abnormal VIT-14"}),
        ("OD: mild mucoid discharge.", {"EYE.tears right abnormal EYE-02"}),
        (
            "Fundus: on the left I got about half of it before she turned away, and that half is normal.",
            {"EYE.fundus left partial"},
        ),
        (
            "Ears fine from the outside, I didn't scope them.",
            {"EAR.pinna left", "EAR.pinna right", "EAR.canal left not_examined", "EAR.canal right not_examined"},
        ),
        ("Teeth not seen.", {"MTH.teeth none not_examined"}),
        ("Hearing not tested. I'm hearing a lot.", {"EAR.hearing none not_examined"}),
        ("Scurf along the back, so mites.", {"SKN.skin none abnormal SKN-06", "SKN.fleas none abnormal SKN-16"}),
        ("Are the gums pale? No, they're pink.", {"VIT.mucous-membranes none"}),
        (
            "Left eye: cornea scarred, lids fine. Same story on the right but no scar.",
            {"EYE.cornea left abnormal EYE-10", "EYE.lids left", "EYE.lids right"},
        ),
        ("No murmur, no click.", {"HRT.murmur none", "HRT.extra-sounds none"}),
        ("Drawer not tested.", {"HLB.drawer left not_examined", "HLB.drawer right not_examined"}),
        (
            "Stifles cool, Ortolani not done.",
            {"HLB.stifle left", "HLB.stifle right", "HLB.ortolani left not_examined", "HLB.ortolani right not_examined"},
        ),
        ("Fleas not looked for.", {"SKN.fleas none not_examined"}),
        (
            "Left knee, drawer we never test awake.",
            {"HLB.drawer left not_examined", "HLB.drawer right not_examined"},
        ),
        ("No gait, he was carried in.", {"GEN.gait none not_examined"}),
        (
            "Gums pink. Not done, and I mean on purpose: nodes, the anal sacs.",
            {"VIT.mucous-membranes none"}
            | {f"LYM.{x} {s} not_examined" for x in ("mandibular", "prescapular", "popliteal") for s in ("left", "right")}
            | {"PER.anal-sacs left not_examined", "PER.anal-sacs right not_examined"},
        ),
        (
            "Rectal deferred till he is under. Anal sacs also.",
            {"PER.rectum none not_examined", "PER.anal-sacs left not_examined", "PER.anal-sacs right not_examined"},
        ),
        (
            "Kneecaps, and the left one, I can't tell, he kept kicking. Right one stays in.",
            {"HLB.patella left not_examined", "HLB.patella right"},
        ),
    ],
    "no pain is a look at what is pressed only": [
        ("Spine, no pain along the chest and the loins.", {"SPN.lumbar none"}),  # and no word about the lungs
        ("Eyes not painful. Heart no pain.", set()),
        ("No pain along the back, all the way to the tail.", {"SPN.thoracic none", "SPN.lumbar none", "SPN.lumbosacral none"}),
    ],
    "answers tags and what the speaker sees after the owner's words": [
        ("A gallop? I listened for it, and no.", {"HRT.extra-sounds none"}),
        ("Nodes under the jaw, normal I think? Yeah, they're normal.", {"LYM.mandibular left", "LYM.mandibular right"}),
        ("Murmur, I'm not sure, with that kettle. Turn it off? No. No murmur.", {"HRT.murmur none"}),
        ("Murmur, I'm not sure, with that kettle.", {"HRT.murmur none abnormal"}),
        ("Eyes sunken on both sides, you see, Thandi?", {"GEN.eye-position left abnormal GEN-14", "GEN.eye-position right abnormal GEN-14"}),
        ("Are the eyes sunken, you think?", set()),
        ("You say he's not seeing well, but he follows my finger.", {"EYE.vision left", "EYE.vision right"}),
        ("You say he's limping, but he follows the ball.", set()),
        ("Weak he is not.", set()),
    ],
    "of which side and of what": [
        ("Watery stuff from the left eye, right eye is dry.", {"EYE.tears left abnormal EYE-01", "EYE.tears right"}),
        ("Right eye is dry.", set()),
        ("Doesn't blink at my hand on the left, he does on the right.", {"NEU.menace left abnormal NEU-06", "NEU.menace right"}),
        ("Left kneecap pops out, the right doesn't.", {"HLB.patella left abnormal", "HLB.patella right"}),
        ("Left kneecap stays in, the right doesn't.", {"HLB.patella left"}),  # how far out, nobody said
        ("Ears. Right canal swollen, and there's a grass seed.", {"EAR.canal right abnormal EAR-08 EAR-18"}),
        ("Ears. Left base soft, the base on the right is sore.", {"EAR.base left", "EAR.base right abnormal EAR-07"}),
        ("Heart. Left base, grade two murmur.", {"HRT.murmur left abnormal HRT-01"}),
        ("Pressure by the right foreleg one forty. Temperature not taken. Gait not assessed.", {"VIT.temperature none not_examined", "GEN.gait none not_examined"}),
        ("Lymph nodes: jaw, shoulder and knee small.", {f"LYM.{x} {s}" for x in ("mandibular", "prescapular", "popliteal") for s in ("left", "right")}),
        ("Lymph nodes fine. Shoulder, knee fine.", {f"LYM.{x} {s}" for x in ("mandibular", "prescapular", "popliteal") for s in ("left", "right")}),
        ("Bladder next. It's an orange. Hard.", {"ABD.bladder none abnormal ABD-14"}),
        ("Bladder next. It's an orange. Soft.", set()),
        ("Nails overgrown, all four feet.", {"FLB.nails left abnormal FLB-19", "FLB.nails right abnormal FLB-19", "HLB.paw left abnormal HLB-24", "HLB.paw right abnormal HLB-24"}),
        ("Corneas clear. No discharge either side.", {f"EYE.{x} {s}" for x in ("cornea", "tears") for s in ("left", "right")}),
        ("Teeth, tartar on the right, left side clean.", {"MTH.teeth right abnormal MTH-02", "MTH.teeth left"}),
    ],
    "what is later the same again or no look at it": [
        ("Third eyelid up? No, she was just pressing her face on me.", set()),
        ("The pads on that foot are worn thin but whole.", {"HLB.paw none abnormal HLB-24"}),
        ("Skin: pressure sore on the right elbow, left elbow no sore.", {"SKN.skin right abnormal SKN-22"}),
        ("Voicebox: he swallows when I touch it, not sore.", set()),
        ("She didn't turn for the squeaky toy.", set()),
        ("Eyes: left one is cross eyed.", {"NEU.eye-position left abnormal NEU-03"}),
        ("I'd leave the knees for another day.", {"HLB.stifle left not_examined", "HLB.stifle right not_examined"}),
        ("Two-oh-four is worn, one-oh-four the same.", {"MTH.teeth left abnormal MTH-11", "MTH.teeth right abnormal MTH-11"}),
        ("Three oh nine is loose. Four oh nine is not the same.", {"MTH.teeth left abnormal MTH-06"}),
        ("Navel: a soft bulge, twelve millimetres.", {"HER.umbilicus none abnormal HER-01"}),
        ("Hips I'd rather do asleep.", {"HLB.hip left not_examined", "HLB.hip right not_examined"}),
    ],
    "what was asked what alone was got at and where": [
        ("Knees, are they swollen? No.", {"HLB.stifle left", "HLB.stifle right"}),
        ("Left hock swollen? No, that's just hair.", {"HLB.hock left"}),
        ("Left hock swollen? No, it's the right one.", set()),
        ("Is the elbow thick? No.", set()),  # the owner may have been asked
        ("Knees, are they swollen? No, I suppose.", set()),
        (
            "Any heat or swelling? Left knee no, right knee yes.",
            {"HLB.stifle left", "HLB.stifle right abnormal HLB-12"},
        ),
        ("Any pain? Hips no. Belly soft.", {"HLB.hip left", "HLB.hip right", "ABD.wall none"}),
        (
            "Hind feet, I only managed the right, which is clean.",
            {"HLB.paw right", "HLB.paw left not_examined"},
        ),
        (
            "Feet, I only saw the front ones and those are clean.",
            {"FLB.digits left", "FLB.digits right", "HLB.paw left not_examined", "HLB.paw right not_examined"},
        ),
        ("Hind feet, only the right is clean.", {"HLB.paw right"}),
        ("The Achilles is taut on the left and on the right.", {"HLB.hock left", "HLB.hock right"}),
        ("The Achilles is taut on the left and on the right it's thick.", {"HLB.hock left", "HLB.hock right abnormal HLB-17"}),
        ("Right elbow clicks compared with the left, which is as it should be.", {"FLB.elbow left"}),
        ("Spine, sore at L four.", {"SPN.lumbar none abnormal SPN-02"}),
        ("Spine, sore at T six.", {"SPN.thoracic none abnormal SPN-01"}),
        ("The wrist end of that bone is lumpy. The right one is straight.", set()),
        ("The femur's broken on the right, skin's whole.", {"HLB.femur right abnormal HLB-21"}),
        ("Back right, nothing to report.", set()),
        ("Back left foot clean.", {"HLB.paw left"}),
        ("She yanked her leg back.", set()),
    ],
    "the other side what is moved and a list of lumps": [
        ("He tracks the ball on the left, nothing on the right.", {"EYE.vision left", "EYE.vision right abnormal EYE-27"}),
        ("Corner blink fine on the right, on the left hardly.", {"NEU.facial-sensation right", "NEU.facial-sensation left abnormal NEU-07"}),
        ("Neck, slowly. Down is okay. Up hurts.", {"NEK.down none", "NEK.up none abnormal NEK-01"}),
        ("The neck to the right stops short, so less bend.", {"NEK.side right abnormal NEK-02"}),
        ("Spine, I ran a thumb down it to the tail, no flinch.", {"SPN.thoracic none", "SPN.lumbar none", "SPN.lumbosacral none"}),
        ("Left lip hangs, right side's fine.", {"NEU.facial-symmetry left abnormal NEU-05", "NEU.facial-symmetry right"}),
        ("Knees: left stays put, right stays put.", {"HLB.patella left", "HLB.patella right"}),
        ("Hips, well, not. Mouth obviously not.", {f"MTH.{x} none not_examined" for x in ("teeth", "gums", "tongue", "palate")} | {f"MTH.cheeks {x} not_examined" for x in ("left", "right")}),
        ("Left canal red. The right one smells foul.", {"EAR.canal left abnormal EAR-01", "EAR.odour right abnormal EAR-06"}),
        ("Lumps now. One on the left shoulder, moves about. Second, right ribs, but that's just a rib end.", {"SKN.lumps left abnormal SKN-27"}),
    ],
    "what stands around tells whose it is": [
        ("Lungs: front clear, back right crackly. Gait sound.", {"LUN.front left", "LUN.front right", "LUN.back right abnormal LUN-06", "GEN.gait none"}),
        ("Lungs harsh in the middle. Front clear.", {"LUN.middle left abnormal LUN-08", "LUN.middle right abnormal LUN-08", "LUN.front left", "LUN.front right"}),
        ("Left apex, grade five murmur, I feel a thrill there.", {"HRT.murmur left abnormal HRT-03", "HRT.impulse left abnormal HRT-14"}),
        ("Breathing forty, no strain.", {"LUN.effort none"}),
        ("He strains to go.", set()),
        ("A squeak each time he pulls air in.", {"THR.airway-sound none abnormal THR-03"}),
        ("A squeak as he breathes out, left middle.", {"LUN.middle left abnormal LUN-07"}),
        ("Round the ears and toes for ticks, came up empty.", {"SKN.ticks none"}),
        ("Round the ears and toes for ticks.", set()),
        ("The fold under the tail is yeasty.", set()),
        ("Ears: the left is yeasty.", {"EAR.odour left abnormal EAR-06"}),
        ("The node in front of the left shoulder is hard as a marble.", {"LYM.prescapular left abnormal LYM-06"}),
        ("The nodes under the jaw are small and slide right under my fingers.", {"LYM.mandibular left", "LYM.mandibular right"}),
        ("Prescaps normal, the ones under the jaw, left, big.", {"LYM.prescapular left", "LYM.prescapular right", "LYM.mandibular left abnormal LYM-01"}),
        ("Loins fine. Rest of the spine I skipped.", {"SPN.lumbar none", "SPN.thoracic none not_examined"}),
        ("No waist. Condition score seven out of nine.", {"BCM.waist none abnormal BCM-05"}),
        ("No waist.", {"BCM.waist none abnormal"}),
        ("Weight four kilos on the proper scale.", set()),
        ("Eyes: both cloudy, cataracts.", {"EYE.lens left abnormal EYE-20", "EYE.lens right abnormal EYE-20"}),
        ("Pain: moderate.", {"GEN.pain none abnormal GEN-18"}),
        ("Pain. Nothing on the back.", set()),
    ],
    "what is misheard the others and what it is": [
        ("Pop littles normal", {"LYM.popliteal left", "LYM.popliteal right"}),  # the plural of one in the table
        ("annal sax, left is full", {"PER.anal-sacs left abnormal PER-01"}),
        ("Nodes under the jaw normal; the others I haven't felt.", {f"LYM.mandibular {s}" for s in ("left", "right")} | {f"LYM.{x} {s} not_examined" for x in ("prescapular", "popliteal") for s in ("left", "right")}),
        ("Coat greasy, and there's a round bald scaly patch on the left foreleg, so that's ringworm.", {"SKN.coat none abnormal SKN-08", "SKN.skin left abnormal SKN-17"}),
        ("Right front. Toes fine, carpus fine. Same order on the left. Toes fine, carpus thick.", {"FLB.digits right", "FLB.carpus right", "FLB.digits left", "FLB.carpus left abnormal FLB-13"}),
        ("Femoral pulses, left's weaker than the right... no, they're equal.", {"HRT.pulses left", "HRT.pulses right"}),
        ("Ears: outsides fine, black stuff in the left canal, the right one's clear.", {"EAR.pinna left", "EAR.pinna right", "EAR.canal left abnormal EAR-03", "EAR.canal right"}),
        ("He's dull, follows me with his eyes and that's it.", {"GEN.consciousness none abnormal GEN-02"}),
    ],
    "lists behind a no and where a word reaches": [
        ("No murmurs, rubs or gallops.", {"HRT.murmur none", "HRT.extra-sounds none"}),
        ("No fleas, ticks or lumps.", {"SKN.fleas none", "SKN.ticks none", "SKN.lumps none"}),
        ("No murmur, gallop rhythm.", {"HRT.murmur none", "HRT.extra-sounds none abnormal HRT-08"}),
        ("The murmur's gone.", {"HRT.murmur none"}),
        ("Grade III/VI murmur at the left apex.", {"HRT.murmur left abnormal HRT-02"}),
        ("Dull ventrally on the right.", set()),
        ("Rectal: mucosa smooth.", {"PER.rectum none"}),
        ("Crackles low on the right, front clear, middle clear.", {"LUN.back right abnormal LUN-06", "LUN.front right", "LUN.middle right"}),
        ("Matted along the back, sore underneath.", {"SKN.coat none abnormal SKN-24"}),
        ("Rectal: the lining is smooth.", {"PER.rectum none"}),
        ("The lining is smooth.", set()),
        ("Rectal deferred. Same goes for the ears and anal sacs.", {"PER.rectum none not_examined"} | {f"{x} {s} not_examined" for x in ("EAR.pinna", "EAR.canal", "PER.anal-sacs") for s in ("left", "right")}),
        ("No bulge next to the anus, one side or the other.", {"PER.muscle-wall left", "PER.muscle-wall right"}),
        ("Moderate epaxial wasting.", {"BCM.back-muscles left abnormal BCM-08", "BCM.back-muscles right abnormal BCM-08"}),
    ],
    "how much of it there and on which side": [
        ("Kneecaps both slip, the left's a three, the right's a two. No, right's the three, left's the two.", {"HLB.patella left abnormal HLB-09", "HLB.patella right abnormal HLB-10"}),
        ("Tartar is heavy on the upper left premolars, on the right only a bit.", {"MTH.teeth left abnormal MTH-02", "MTH.teeth right abnormal MTH-02"}),
        ("Left drum looks good; can't see the right one for the hair.", {"EAR.tympanum left", "EAR.tympanum right not_examined"}),
        ("Chest wall on the left, two ribs broken.", {"LUN.chest-wall left abnormal LUN-15"}),
        ("Left apex murmur, five out of six, I can feel the thrill on that side.", {"HRT.murmur left abnormal HRT-03", "HRT.impulse left abnormal HRT-14"}),
        ("The left kidney is small. The other one's big.", {"ABD.kidney-left left abnormal ABD-09", "ABD.kidney-right right abnormal ABD-10"}),
        ("Twenty breaths a minute, easy.", {"LUN.effort none"}),
    ],
    "what is denied with it how far and what is done for it": [
        ("Hocks: no swelling, heat or pain.", {"HLB.hock left", "HLB.hock right"}),
        ("Knees, no pain, swelling, or crepitus.", {"HLB.stifle left", "HLB.stifle right"}),
        ("Left knee sore, swollen or hot I can't tell.", {"HLB.stifle left abnormal HLB-16"}),
        ("Back, no pain until the TL, then he yelps.", {"SPN.thoracic none", "SPN.lumbar none abnormal SPN-02"}),
        ("Spine comfortable until I get to the lumbosacral.", {"SPN.thoracic none", "SPN.lumbar none"}),
        ("I can't push either kneecap out.", {"HLB.patella left", "HLB.patella right"}),
        ("When I turn the left back paw over he leaves it there.", {"NEU.placement LH abnormal NEU-13"}),
        ("He's wobbly at the back.", {"NEU.gait LH abnormal NEU-10", "NEU.gait RH abnormal NEU-10"}),
        ("Weight bearing evenly on both front legs.", {"FLB.gait left", "FLB.gait right"}),
        ("Left knee's full.", set()),  # of fluid, or its range
        ("Below the right elbow it bends where it shouldn't.", set()),
        ("Hip tests and drawer, no.", {"HLB.hip left not_examined", "HLB.hip right not_examined"}),
        ("Tripod, he lost his left foreleg as a pup. Elbow's free.", {"FLB.elbow right"}),
        ("Right side of the face: so that's a Horner's.", {"NEU.pupils right abnormal NEU-23"}),
        ("The left half of the face is perky.", set()),
        ("Spine comfortable, tail included.", {"SPN.thoracic none", "SPN.lumbar none", "SPN.tail none"}),
        ("Left fore, pinching the web, he pulls away.", {"NEU.withdrawal LF"}),
        ("Shoulder: won't have it extended, the tendon I forgot to press.", {"FLB.shoulder left not_examined", "FLB.shoulder right not_examined"}),
        ("His mum thinks he's dull, to me he's bright.", {"GEN.consciousness none"}),
        ("Both wrists are puffy. Both hocks, same deal.", {f"FLB.carpus {s} abnormal FLB-13" for s in ("left", "right")} | {f"HLB.hock {s} abnormal HLB-17" for s in ("left", "right")}),
        ("Hips good. Knees, I didn't do. Hocks, same.", {"HLB.hip left", "HLB.hip right", "HLB.stifle left not_examined", "HLB.stifle right not_examined"}),
        ("Blink to my hand: left yes, right no.", {"NEU.menace left", "NEU.menace right abnormal NEU-06"}),
        ("Kneecaps: left no, right yes.", set()),
        ("Starting up top on the left foreleg. Elbow's free.", {"FLB.elbow left"}),
        ("Spine, nothing till the thoracolumbar, then he flinches.", {"SPN.thoracic none", "SPN.lumbar none abnormal SPN-02"}),
        ("Placing: left fore and left hind are slow.", {"NEU.placement LF abnormal NEU-13", "NEU.placement LH abnormal NEU-13"}),
        ("On the right back leg I squeezed both long bones, quiet.", {"HLB.femur right", "HLB.tibia right"}),
        ("On the right, neither the upper arm nor the forearm is sore.", {"FLB.humerus right", "FLB.radius-ulna right"}),
    ],
    "where it is and what is in the way": [
        ("The pulses in both thighs are full.", {"HRT.pulses left", "HRT.pulses right"}),
        ("Spleen I can't feel through that.", {"ABD.spleen none not_examined"}),
        ("Spleen I can't feel.", {"ABD.spleen none"}),
        ("Belly: blown up, and it's painful, moderate I'd say.", {"ABD.wall none abnormal ABD-03 ABD-01"}),
        ("Pulses fine. Lungs are hard to hear over that noise.", {"HRT.pulses left", "HRT.pulses right"}),
    ],
    "a row of nodes what is forgotten and asked": [
        ("Nodes at the jaw and shoulders normal.", {f"LYM.{x} {s}" for x in ("mandibular", "prescapular") for s in ("left", "right")}),
        ("Tonsils, forget it.", {"MTH.tonsils left not_examined", "MTH.tonsils right not_examined"}),
        ("Right fore: foot clean, wrist fine, is that fluid in the elbow? No.", {"FLB.digits right", "FLB.carpus right"}),
        ("Lungs clear in the front and middle both sides.", {f"LUN.{x} {s}" for x in ("front", "middle") for s in ("left", "right")}),
        ("Left lip droops; the right side of the face is even and he blinks fine.", {"NEU.facial-symmetry left abnormal NEU-05", "NEU.facial-symmetry right", "NEU.facial-sensation right"}),
        ("Ears. He flinches when I squeeze the left ear base the right base is not sore.", {"EAR.base left abnormal EAR-07", "EAR.base right"}),
        ("Two-oh-six missing, tartar moderate all round.", {"MTH.teeth left abnormal MTH-07", "MTH.teeth none abnormal MTH-02"}),
    ],
    "of which it is when the name is not said again": [
        ("Right front. Wrist folds all the way. Now the left front. Toes okay, nail on digit four is torn. Pads fine. Wrist same as the other one.", {"FLB.carpus left", "FLB.carpus right", "FLB.digits left", "FLB.nails left abnormal FLB-18", "FLB.pads left"}),
        ("Front nails: left foot long and thick, right foot good.", {"FLB.nails left abnormal FLB-19", "FLB.nails right"}),
        ("Left kneecap comes out and stays out, grade three. Right, same again, but a two.", {"HLB.patella left abnormal HLB-10", "HLB.patella right abnormal HLB-09"}),
        ("In front, shoulders and elbows have their full range, carpi likewise.", {"FLB.carpus left", "FLB.carpus right", "FLB.elbow left", "FLB.elbow right", "FLB.shoulder left", "FLB.shoulder right"}),
        ("Behind the knees: left is mildly up. Right, is that up too? No, that's fat, the node's normal.", {"LYM.popliteal left abnormal LYM-01", "LYM.popliteal right"}),
        ("Keisha says the left back foot tracked blood. Let me see it... foot's clean, that's from the last patient.", {"HLB.paw left"}),
        ("Paw placement: left hind quick. Right hind slow? Do that over. No, he was just tipping, it's normal.", {"NEU.placement LH", "NEU.placement RH"}),
        ("Left canal is swollen. She ducks when I squeeze the base, so that's sore. Can't see the drum over there, it's buried.", {"EAR.base left abnormal EAR-07", "EAR.canal left abnormal EAR-08", "EAR.tympanum left not_examined"}),
        ("Lungs: right clear throughout; left, crackle at the back? No, that's her coat. Left is clear too.", {"LUN.back left", "LUN.back right", "LUN.front left", "LUN.front right", "LUN.middle left", "LUN.middle right"}),
        ("Left hind: femur, stifle, tibia, hock, all solid.", {"HLB.femur left", "HLB.hock left", "HLB.stifle left", "HLB.tibia left"}),
        ("Rectal: no masses, anal sacs empty.", {"PER.anal-sacs left", "PER.anal-sacs right", "PER.rectum none"}),
        ("Neck goes up and down, no problem.", {"NEK.down none", "NEK.up none"}),
        ("Neck goes up and down fine; side to side I skipped.", {"NEK.down none", "NEK.side left not_examined", "NEK.side right not_examined", "NEK.up none"}),
        ("Ortolani and hips not today.", {"HLB.hip left not_examined", "HLB.hip right not_examined"}),
        ("Hips extend, left and right, not a peep.", {"HLB.hip left", "HLB.hip right"}),
        ("Back doesn't hurt anywhere, clear down to the tail.", {"SPN.lumbar none", "SPN.lumbosacral none", "SPN.thoracic none"}),
        ("Menace: nothing on the right, but on the left she blinks.", {"NEU.menace left", "NEU.menace right abnormal NEU-06"}),
        ("Retina on the right is detached, it's ballooning up at me.", {"EYE.fundus right abnormal EYE-31"}),
    ],
    "which side which one and what it was a moment ago": [
        ("Left elbow swollen. Other elbow fine.", {"FLB.elbow left abnormal FLB-06", "FLB.elbow right"}),
        ("Left front pad has a cut. Other front foot's fine.", {"FLB.digits right", "FLB.pads left abnormal FLB-22"}),
        ("A little gray goo in the left eye, the right one's clean.", {"EYE.tears left abnormal EYE-02", "EYE.tears right"}),
        ("Left lung, front, middle, back, all clear.", {"LUN.back left", "LUN.front left", "LUN.middle left"}),
        ("Left ear, the canal's just a touch pink.", {"EAR.canal left abnormal EAR-01"}),
        ("Gingivitis grade one on the left lower side, and the right lower the same... no, I take that back, right lower gum is normal.", {"MTH.gums left abnormal MTH-03", "MTH.gums right"}),
        ("Belly, he's tensing, come on, let go, there, now it's soft.", {"ABD.wall none"}),
        ("Right hind, hip and knee move, no pain. Front legs, same, shoulders, elbows, wrists.", {"FLB.carpus left", "FLB.carpus right", "FLB.elbow left", "FLB.elbow right", "FLB.shoulder left", "FLB.shoulder right", "HLB.hip right", "HLB.stifle right"}),
        ("A little tartar on all four canines.", {"MTH.teeth left abnormal MTH-02", "MTH.teeth right abnormal MTH-02"}),
        ("No bulge in either flank.", {"HER.body-wall left", "HER.body-wall right"}),
        ("Left fore she won't put down, two out of five lame. Elbow okay.", {"FLB.elbow left", "FLB.gait left abnormal FLB-01"}),
    ],
}  # fmt: skip


@pytest.mark.parametrize(
    ("said", "found"),
    [pytest.param(*row, id=f"{subject}: {row[0]}") for subject, rows in SAID.items() for row in rows],
)
def test_what_stands_around_decides(said: str, found: set[str]) -> None:
    assert told(said) == found
