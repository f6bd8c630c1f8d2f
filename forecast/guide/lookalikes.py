"""What is taken for disease and is none, each with the check that tells, and the other words a scout may record.

None of these ever counts as a sighting of a disease.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from forecast.guide.form import Source


@dataclass(frozen=True, slots=True)
class LookAlike:
    """Something that is taken for disease and is none.

    Attributes:
        key: how records name it.
        name: in words.
        looks: what it looks like.
        check: the one check that tells it from disease.
        source: whose check.
    """

    key: str
    name: str
    looks: str
    check: str
    source: Source


@dataclass(frozen=True, slots=True)
class UnmodelledDisease:
    """A disease without a model here.

    Attributes:
        key: how the guide names it.
        name: in words.
        season: the season of the grasses it grows on.
    """

    key: str
    name: str
    season: Literal["cool", "warm", "any"]


LOOKALIKES = MappingProxyType(
    {
        one.key: one
        for one in (
            LookAlike(
                "dog_urine",
                "dog urine",
                "round dead spots of a few inches, most along paths and gates",
                "Look at the rim: after some days a ring of taller, darker green grass stands around the spot, and "
                "blades have no lesions. Dead grass in a closed bag smells of ammonia.",
                Source("Washington State University Hortsense, dog injury, 2014", "read second-hand"),
            ),
            LookAlike(
                "white_grubs",
                "white grubs",
                "patches that wilt on moist ground, spongy underfoot; birds, skunks or raccoons dig there",
                "Tug: the turf lifts like a carpet, with the roots chewed off. Fold back a square foot and count the "
                "C-shaped grubs; some ten to twelve are needed to do damage.",
                Source("Nixon, University of Illinois, 2014; University of Florida, white grubs", "read second-hand"),
            ),
            LookAlike(
                "chinch_bugs",
                "chinch bugs",
                "yellow to rusty patches that grow in the hottest, sunniest places although they are watered",
                "Part the grass at the edge of a patch on a warm afternoon, or press in a can without ends, fill it "
                "with water, and wait five minutes: small black and white or red bugs float up.",
                Source("a Florida note on southern chinch bugs, as another page quotes it", "read second-hand"),
            ),
            LookAlike(
                "sod_webworms",
                "sod webworms",
                "small brown patches where the grass looks closely clipped; buff moths fly up in the evening",
                "Part the thatch: blades are bitten off and still rooted, with silk tubes and green pellets of frass. "
                "Soapy water brings the caterpillars up within minutes.",
                Source("University of Illinois Extension, sod webworms and grubs, 2014", "read second-hand"),
            ),
            LookAlike(
                "billbugs",
                "billbugs",
                "straw-coloured patches from early summer on that stay brown after rain, most along pavement",
                "Tug: shoots break off at the crown, hollow, with frass like fine sawdust in them. Legless white "
                "grubs sit in the soil below.",
                Source(
                    "Sherratt, Ohio State University, in a sports turf magazine, August 2025; tug test",
                    "read second-hand",
                ),
            ),
            LookAlike(
                "drought",
                "drought",
                "dull bluish-gray turf on slopes, knolls and along pavement, later straw-coloured",
                "Walk on it: footprints stay. Blades are folded or rolled and have no lesions, a screwdriver will not "
                "go in, and water brings the colour back within days.",
                Source("Purdue University turf notes on drought and brown tracks; screwdriver", "read second-hand"),
            ),
            LookAlike(
                "dry_spot",
                "localized dry spot",
                "wilted patches with sharp edges that stay dry after rain or watering, most on sandy ground",
                "Take a soil core and lay drops of water along it: on a dry spot they stand as beads where they "
                "should sink in within seconds.",
                Source("Karnok, University of Georgia, 2006, water droplet test", "abstract read"),
            ),
            LookAlike(
                "burn",
                "spray, fertilizer or fuel burn",
                "stripes, straight edges, overlaps or splashes, all of one age",
                "Compare it with the path of the machine: it follows wheels, turns and overlaps, came all at once, "
                "and does not spread. Other plants that were hit are burnt too.",
                Source(
                    "University of Maryland Extension, fertilizer injury, 2023; University of California, lawn "
                    "problems; does not spread",
                    "read second-hand",
                ),
            ),
            LookAlike(
                "dull_mower",
                "dull mower",
                "a gray, later brown cast over all that was mown, a day or two after it",
                "Look at the tips: torn and frayed, with threads, while the blade below is green and whole.",
                Source("University of Maryland Extension, mower injury, 2023; frayed tips", "read second-hand"),
            ),
            LookAlike(
                "scalping",
                "scalping",
                "brown strips or humps on high ground, right after mowing",
                "Look from the side: it sits on high spots, and stems and crowns stand bare where the blades were cut "
                "off.",
                Source("University of Maryland Extension, mower injury, 2023", "read second-hand"),
            ),
            LookAlike(
                "frost",
                "frost",
                "black, then straw-coloured footprints and wheel marks; stripes on warm-season turf in autumn",
                "Look for feet and wheels: it keeps their shape, came the morning after a frost, and blades have no "
                "lesions.",
                Source("Hardebeck & Reicher, Purdue University, 2002; Virginia Tech note", "read second-hand"),
            ),
            LookAlike(
                "heat_tracks",
                "heat tracks",
                "brown wheel and foot marks on dry turf in hot weather",
                "Look for wheels: the marks run as the mower or cart did, over turf that was short of water that day.",
                Source("Colorado State University PlantTalk 1501; Purdue University, brown tracks", "read second-hand"),
            ),
            LookAlike(
                "winterkill",
                "winterkill",
                "dead or late turf in spring in low wet places, under ice, in shade, or on windswept ground",
                "Look at shape and roots: it follows ground, water and wind in no rings, and roots and runners are "
                "pale or bleached, not black and rotten.",
                Source("", "common practice, no source"),
            ),
            LookAlike(
                "spider_webs",
                "spider webs",
                "white sheets on the grass in the dew",
                "Touch it and wait: a web has a funnel and is still there once the dew has dried, with green grass "
                "below; threads of a fungus are gone by then and leave lesions.",
                Source("Master Gardeners of Greene County, Missouri, 2016; funnel", "read second-hand"),
            ),
        )
    }
)

# What else a scout may have seen: words for records, that count as no disease and as no clear "nothing".
UNCLEAR = MappingProxyType(
    {
        "other_disease": "a disease that is not on the list; name it in the note",
        "unknown": "something that could not be told; describe it in the note",
    }
)

# Diseases that no model here speaks of, named so that a scout can tell them apart.
UNMODELLED = MappingProxyType(
    {
        one.key: one
        for one in (
            UnmodelledDisease("fairy_ring", "fairy ring", "any"),
            UnmodelledDisease("leaf_spot", "leaf spot and melting out", "any"),
            UnmodelledDisease("necrotic_ring_spot", "necrotic ring spot", "cool"),
            UnmodelledDisease("powdery_mildew", "powdery mildew", "any"),
            UnmodelledDisease("red_thread", "red thread", "cool"),
            UnmodelledDisease("take_all_root_rot", "take-all root rot", "warm"),
        )
    }
)
