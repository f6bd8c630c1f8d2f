"""Diseases that mark blade and stem: anthracnose, gray leaf spot, stem rust."""

from __future__ import annotations

from forecast.guide.form import GuideEntry, Separation, Source

ANTHRACNOSE = GuideEntry(
    disease="anthracnose",
    first_month=4,
    last_month=10,
    look_at="daylight",
    hour="in full daylight with a hand lens of ten times; the time of day does not matter",
    weather="after hot days with long wet nights, where turf is under stress; crown rot of annual bluegrass also in a "
    "cool wet spring",
    patch="yellow to bronze turf in patches of no set shape, from a few inches to a few feet, often plant by plant "
    "in between green ones",
    blade="yellow, then reddish-brown from the tip; on dying blades tiny black cushions with black hairs like lashes",
    base="where the crown is attacked its base is black and soft and the central leaf pulls out",
    dew="nothing to see in the dew",
    sure="With a hand lens look at dying blades and stem bases for black hairs standing out of black dots.",
    quiet="",
    not_disease=(
        Separation("drought", "Drought has no black hairs, and water brings the colour back."),
        Separation("dry_spot", "A dry spot is powder-dry below; drops of water stand on its soil."),
        Separation("scalping", "Scalping sits on high spots after mowing and bares green stems."),
        Separation("burn", "A burn has straight edges and one age, and no black hairs."),
    ),
    other_diseases=(
        Separation("summer_patch", "Summer patch makes rings with rotten dark roots; anthracnose has black hairs."),
        Separation("dollar_spot", "Dollar spot makes spots of one size with bands across the blades."),
        Separation("take_all_patch", "Take-all patch makes rings with black roots and has no black hairs."),
        Separation("leaf_spot", "Leaf spot shows dark spots with tan middles and no hairs."),
    ),
    places=("compacted", "close_cut", "low_nitrogen", "dry_places", "low_wet", "past_patches"),
    unsure="Send crowns and roots, not only blades: the rot at the crown is the form that kills.",
    sources=(
        Source("University of Illinois Extension, anthracnose; RPD 416", "read second-hand"),
        Source("Danneberger, Vargas & Jones 1984, Phytopathology 74:448-451; the weather", "abstract read"),
        Source("central leaf pulls out", "from memory"),
    ),
)

GRAY_LEAF_SPOT = GuideEntry(
    disease="gray_leaf_spot",
    first_month=6,
    last_month=10,
    look_at="dawn",
    hour="early, while blades are wet: the spots are gray and velvety then; shapes of blades can be seen all day",
    weather="after several days of 27 to 32\u00a0°C (81 to 90\u00a0°F) with blades wet for long; in the north most in "
    "late summer and early autumn",
    patch="at first like drought, thin and off colour; on ryegrass and tall fescue orange to yellow patches of some "
    "inches that run together and mat; on St. Augustinegrass no patches but a scorched cast",
    blade="small round to oval spots, tan to gray with a dark brown edge, sometimes a yellow halo; on ryegrass and "
    "tall fescue tips twist like a fish hook",
    base="sound at first; ryegrass plants die as a whole later",
    dew="gray velvet of spores on the spots, no white threads",
    sure="With a hand lens on wet blades: round spots with a dark edge and gray velvet in them; on ryegrass also "
    "twisted tips.",
    quiet="",
    not_disease=(
        Separation("drought", "Drought has no spots, and watering helps; gray leaf spot goes on in watered turf."),
        Separation("chinch_bugs", "Chinch bugs start in full sun and leave no spots; look for the bugs."),
        Separation("sod_webworms", "Caterpillars bite blades off; gray leaf spot leaves them twisted and whole."),
        Separation("burn", "A burn has straight edges and no spots."),
    ),
    other_diseases=(
        Separation(
            "brown_patch", "Brown patch has blotches of no set shape, straight tips, and white threads at dawn."
        ),
        Separation("pythium_blight", "Pythium blight has white cotton and no spots with an edge."),
        Separation("dollar_spot", "Dollar spot's bands are bleached and reach across the blade; tips are straight."),
        Separation("leaf_spot", "Leaf spot comes in cooler weather, with purple-brown spots and straight tips."),
        Separation(
            "take_all_root_rot", "On St. Augustinegrass take-all root rot blackens roots; blades have no spots."
        ),
    ),
    places=("new_turf", "shade", "often_watered", "high_nitrogen", "evening_water", "still_air", "past_patches"),
    unsure="Do not wait: on ryegrass send a sample the same day, since it can take a stand within days.",
    sources=(
        Source("North Carolina State University turf disease pages, gray leaf spot, 2012", "read second-hand"),
        Source("University of Massachusetts fact sheet, gray leaf spot", "read second-hand"),
        Source("Mississippi State University Extension IS1683, 2017; St. Augustinegrass", "read second-hand"),
        Source("Uddin, Serlemitsos & Viji 2003, Phytopathology 93:336-343; warmth and wetness", "abstract read"),
    ),
)

STEM_RUST = GuideEntry(
    disease="stem_rust",
    first_month=6,
    last_month=11,
    look_at="daylight",
    hour="in full daylight on dry turf: the dust shows on shoes and mower",
    weather="after mild days of 20 to 25\u00a0°C (68 to 77\u00a0°F) with long dew, where the grass grows slowly",
    patch="a yellow to orange cast over weak turf with no edges; thin in the end",
    blade="yellow flecks, then raised orange to brick-red blisters in rows that burst into powder; black in autumn",
    base="blisters also on stems and sheaths, where stem rust has most of them; roots sound",
    dew="nothing to see in the dew",
    sure="Wipe a blade with a white cloth: orange or red powder. Which rust it is only a lab can tell.",
    quiet="",
    not_disease=(
        Separation("drought", "Drought leaves no powder on a cloth."),
        Separation("dull_mower", "A dull mower frays tips and leaves no powder."),
    ),
    other_diseases=(
        Separation("leaf_spot", "Leaf spot does not rub off."),
        Separation("powdery_mildew", "Powdery mildew is white to gray dust, in shade."),
        Separation("red_thread", "Red thread's pink to red threads do not rub off as dust."),
    ),
    places=("low_nitrogen", "shade", "dry_places", "new_turf", "past_patches"),
    unsure="It seldom kills mown turf; there is time to send a sample and to see whether growth outruns it.",
    sources=(
        Source("University of Maryland Extension, rust in lawns", "read second-hand"),
        Source("University of California IPM, rust", "read second-hand"),
        Source("North Carolina State University turf disease pages, rust, 2012", "read second-hand"),
        Source("stem rust has most of its blisters on stems; white cloth", "from memory"),
    ),
)

ENTRIES = (ANTHRACNOSE, GRAY_LEAF_SPOT, STEM_RUST)
