"""Diseases of sheath, crown, runner and root: large patch, spring dead spot, summer patch, take-all patch."""

from __future__ import annotations

from forecast.guide.form import GuideEntry, Separation, Source

_HOUR = "in daylight, with a knife and a hand lens; the time of day does not matter"

LARGE_PATCH = GuideEntry(
    disease="large_patch",
    first_month=9,
    last_month=5,
    look_at="daylight",
    hour="in daylight, from standing height first, since the orange rim shows from afar; the hour does not matter",
    weather="after rain in autumn once soil is below 21\u00a0°C (70\u00a0°F), and again at green-up, while it is above "
    "10\u00a0°C (50\u00a0°F)",
    patch="round patches from a foot to twenty feet and more, in the same places year after year; orange, bronze or "
    "yellow at the rim while it is active, thin and sunken inside",
    blade="no lesions on the blade; it yellows from the tip and turns orange",
    base="reddish-brown to black lesions on the lowest sheaths, so that a light tug slips the shoot off its runner; "
    "roots are sound",
    dew="nothing to rely on: threads and dark rings are mostly missing",
    sure="Tug single shoots at the orange rim: they slip off, and the base of the sheath is brown and rotten while "
    "roots are pale.",
    quiet="",
    not_disease=(
        Separation("winterkill", "Winterkill follows low ground, ice and shade, not circles, and comes with no rim."),
        Separation("frost", "Frost colours turf in stripes and spots overnight and rots no sheaths."),
        Separation("chinch_bugs", "Chinch bugs belong to hot weather; sheaths are not rotten."),
        Separation("white_grubs", "Over grubs the whole turf lifts with its runners; large patch frees single shoots."),
        Separation("dog_urine", "A dog's spot is small, with a green rim, and shoots hold."),
    ),
    other_diseases=(
        Separation("spring_dead_spot", "Spring dead spot blackens roots and runners; large patch leaves them pale."),
        Separation("take_all_root_rot", "Take-all root rot blackens roots, and whole runners lift off the ground."),
        Separation("brown_patch", "Brown patch belongs to warm summer nights and marks the blades."),
        Separation("dollar_spot", "Dollar spot's spots are inches across with bands on the blades."),
        Separation("fairy_ring", "A fairy ring has a belt of dark green grass, at times mushrooms, and sound sheaths."),
    ),
    places=("past_patches", "low_wet", "compacted", "thatch", "shade", "evening_water", "high_nitrogen"),
    unsure="Send shoots from the orange rim with their runners, not from the dead middle; dormant turf hides it, so in "
    "the cold wait for green-up.",
    sources=(
        Source("University of Missouri Extension IPM1029, large patch", "read second-hand"),
        Source("Oklahoma State University EPP-7324, large patch", "read second-hand"),
        Source("Texas A&M plant disease handbook, brown patch of warm-season turf; tug", "read second-hand"),
        Source("Green, Fry, Pair & Tisserat 1993, Plant Dis. 77:1040-1044; the temperatures", "abstract read"),
    ),
)

SPRING_DEAD_SPOT = GuideEntry(
    disease="spring_dead_spot",
    first_month=3,
    last_month=6,
    look_at="daylight",
    hour=_HOUR,
    weather="at green-up, most after a cold winter: look once the turf around has turned green",
    patch="round or arc-shaped dead straw-coloured spots from inches to several feet, slightly sunken, in the same "
    "places each year and larger; green grass or weeds may stand in the middle",
    blade="bleached and dead, no lesions",
    base="roots, runners and crowns dark brown to black, rotten and brittle, best seen at the rim of a spot",
    dew="nothing to see in the dew",
    sure="Dig up a runner at the rim: roots and runner are black and brittle, in a round spot amid green turf.",
    quiet="Nothing shows in autumn while roots are being infected: find the spots of last spring on your map or in "
    "your records, they are the places that matter.",
    not_disease=(
        Separation(
            "winterkill", "Winterkill has no rings, lies in low, shaded or windswept places, and roots are not black."
        ),
        Separation("dog_urine", "A dog's spot comes in any month, with a green rim; roots are not black."),
        Separation("white_grubs", "Grubs chew roots off; here they are there and black."),
        Separation("burn", "Spills have ragged or straight edges and do not come back in the same rings."),
    ),
    other_diseases=(
        Separation("large_patch", "Large patch rots sheaths and leaves roots pale; its rim is orange."),
        Separation(
            "take_all_root_rot", "Take-all root rot also blackens roots, mostly in summer; only a lab can tell."
        ),
        Separation("fairy_ring", "A fairy ring has a dark green belt and sound roots."),
    ),
    places=("past_patches", "thatch", "compacted", "low_wet", "high_nitrogen"),
    unsure="Send a plug from the rim at green-up; by late summer the fungus is hard to find.",
    sources=(
        Source("University of Missouri Extension IPM1029, spring dead spot", "read second-hand"),
        Source("Oklahoma State University EPP-7665, spring dead spot", "read second-hand"),
        Source("Clemson University fact sheet; when roots are infected", "read second-hand"),
    ),
)

SUMMER_PATCH = GuideEntry(
    disease="summer_patch",
    first_month=6,
    last_month=9,
    look_at="daylight",
    hour="in the heat of the day for wilting rings from afar, then with knife and hand lens; dawn adds nothing",
    weather="after the first hot dry days that follow a wet spell",
    patch="wilted gray-green, then straw-coloured patches of two to six inches that grow to a foot or two; rings and "
    "crescents with green grass in the middle, in the same places each year",
    blade="dies back from the tip without lesions",
    base="roots and crowns brown to black and short; dark threads run along them, to be seen with a microscope only",
    dew="nothing to see in the dew",
    sure="Wash the roots of plants from the rim: brown to black and few, on shoots that hold and are not hollow.",
    quiet="Roots are infected in spring, when nothing shows: mark the rings of last summer.",
    not_disease=(
        Separation(
            "drought", "Drought makes no rings and leaves pale roots; a watered patch that stays ill is not drought."
        ),
        Separation("billbugs", "Billbugs leave hollow shoots with sawdust that break off at a tug."),
        Separation("white_grubs", "Grubs chew roots off and the turf lifts."),
        Separation("chinch_bugs", "Chinch bugs leave roots sound; look for the bugs."),
        Separation("dry_spot", "On a dry spot drops of water stand on the soil; roots are pale."),
        Separation("heat_tracks", "Heat tracks run as wheels do."),
    ),
    other_diseases=(
        Separation(
            "necrotic_ring_spot", "Necrotic ring spot looks the same, more in spring and autumn; only a lab can tell."
        ),
        Separation("brown_patch", "Brown patch marks blades and leaves roots sound."),
        Separation("anthracnose", "Anthracnose shows black hairs under a hand lens."),
        Separation(
            "take_all_patch", "Take-all patch kills bentgrass; summer patch kills the bluegrass beside it.", mixed=True
        ),
        Separation("fairy_ring", "A fairy ring has a dark green belt."),
    ),
    places=("past_patches", "hot_edges", "compacted", "thatch", "close_cut", "low_wet"),
    unsure="Rings and dark roots alone do not settle it: send a plug from the rim with three inches of roots.",
    sources=(
        Source("University of Missouri Extension IPM1029, summer patch", "read second-hand"),
        Source("Purdue University turf tips, 19 June 2009, patch diseases", "read second-hand"),
        Source("University of Wisconsin Turfgrass Diagnostic Lab, summer patch", "read second-hand"),
        Source("take-all and summer patch told apart by the grass that dies", "from memory"),
    ),
)

TAKE_ALL_PATCH = GuideEntry(
    disease="take_all_patch",
    first_month=4,
    last_month=8,
    look_at="daylight",
    hour=_HOUR,
    weather="in late spring and early summer after a cool wet time; hot dry days bring it out",
    patch="reddish-brown, bronze or bleached rings and patches from some inches to three feet; annual bluegrass, "
    "fescue or weeds stand in the middle",
    blade="bronze to tan, no lesions",
    base="roots, crowns and runners dark brown to black; plants come out with ease",
    dew="nothing to see in the dew",
    sure="See which grass dies: bentgrass only, with black roots, while other grasses in the ring stay green.",
    quiet="In autumn and winter roots are being infected and little shows: mark the rings of early summer.",
    not_disease=(
        Separation("drought", "Drought takes all grasses alike and leaves pale roots."),
        Separation("dry_spot", "On a dry spot drops of water stand on the soil."),
        Separation("burn", "A burn has straight edges and one age; roots are pale."),
        Separation("white_grubs", "Grubs chew roots off and the turf lifts."),
    ),
    other_diseases=(
        Separation("summer_patch", "Summer patch spares bentgrass, as a rule, and comes in greater heat.", mixed=True),
        Separation("anthracnose", "Anthracnose makes no rings and shows black hairs under a hand lens."),
        Separation("fairy_ring", "A fairy ring has a dark green belt and takes every grass."),
    ),
    places=("new_turf", "past_patches", "low_wet", "limed"),
    unsure="Send a plug from the rim with its roots; black roots have more than one cause.",
    sources=(
        Source("University of Massachusetts fact sheet, take-all patch of bentgrasses", "read second-hand"),
        Source("Michigan State University, take-all patch", "read second-hand"),
        Source("Pennsylvania State University (Landschoot), as another page gives it", "read second-hand"),
    ),
)

ENTRIES = (LARGE_PATCH, SPRING_DEAD_SPOT, SUMMER_PATCH, TAKE_ALL_PATCH)
