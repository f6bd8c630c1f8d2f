"""Diseases of leaf and crown in warm, wet weather: brown patch, dollar spot, Pythium blight."""

from __future__ import annotations

from forecast.guide.form import GuideEntry, Separation, Source

BROWN_PATCH = GuideEntry(
    disease="brown_patch",
    first_month=5,
    last_month=9,
    look_at="dawn",
    hour="at dawn, before the dew dries and before mowing: the threads are gone an hour or two later",
    weather="the morning after a night that stayed above 16\u00a0°C (60\u00a0°F) with grass wet for ten hours; above "
    "21\u00a0°C (70\u00a0°F) look every morning",
    patch="round to ragged tan or brown patches, from a few inches to several feet; in tall turf the blades stay "
    "upright and the middle may be green; on close-cut turf a thin dark rim while it spreads and is wet",
    blade="tan lesions of no set shape with a thin dark brown edge, clearest on tall fescue; on close-cut turf whole "
    "blades turn brown and show no lesions",
    base="roots and crowns are sound and the plant holds when you tug",
    dew="fine gray-white threads between the wet blades, most at the rim of a patch",
    sure="Take ten blades from the rim, not the middle, to a hand lens: tan lesions with a brown edge on plants that "
    "are firmly rooted.",
    quiet="",
    not_disease=(
        Separation("drought", "Drought leaves no lesions and footprints stay; brown patch comes on moist ground."),
        Separation(
            "dog_urine", "A dog's spot has a dark green rim of taller grass; brown patch has a dark or tan one."
        ),
        Separation("white_grubs", "Turf over grubs lifts like a carpet; turf with brown patch holds."),
        Separation("chinch_bugs", "Chinch bugs start in sun and heat, brown patch where it stays wet; look for bugs."),
        Separation("burn", "A burn has straight edges and one age; brown patch has neither."),
        Separation("dull_mower", "A dull mower frays tips everywhere; brown patch marks blades along their length."),
        Separation("spider_webs", "A web outlasts the dew and the grass below is green."),
    ),
    other_diseases=(
        Separation(
            "dollar_spot", "Dollar spot's lesions are bleached and reach across the blade, pinched at the waist."
        ),
        Separation("gray_leaf_spot", "Gray leaf spot makes small round spots, gray and velvety when wet; tips twist."),
        Separation("pythium_blight", "Pythium blight is greasy and matted, without lesions, and follows water."),
        Separation("large_patch", "Large patch comes in cool weather and rots sheaths; blades have no lesions."),
        Separation("summer_patch", "Summer patch has no leaf lesions and dark, rotten roots."),
    ),
    places=("past_patches", "shade", "still_air", "evening_water", "low_wet", "dense", "high_nitrogen", "thatch"),
    unsure="Look again at dawn after the next warm wet night; no lesions twice over speaks against it.",
    sources=(
        Source("North Carolina State University, Managing Diseases of Tall Fescue (Tredway)", "read second-hand"),
        Source("Michigan State University, brown patch", "read second-hand"),
        Source("University of Illinois Extension, brown patch", "read second-hand"),
        Source("Kansas State University, brown patch of tall fescue; lesions tell", "read second-hand"),
        Source("Oregon State University tall fescue monograph; the night temperatures", "read second-hand"),
    ),
)

DOLLAR_SPOT = GuideEntry(
    disease="dollar_spot",
    first_month=5,
    last_month=11,
    look_at="dawn",
    hour="at dawn, before the dew dries and before mowing or dew removal",
    weather="after warm days with cool nights and heavy dew, or several wet days; above 16\u00a0°C (60\u00a0°F) a long "
    "dew is enough",
    patch="straw-coloured to white sunken spots the size of a coin on close-cut turf; two to six inches in taller "
    "turf, running together",
    blade="a bleached band right across the blade with reddish-brown edges, often pinched like an hourglass; on "
    "fine bentgrass only the tips look bleached; the reddish edge may lack on annual bluegrass",
    base="roots and crowns are sound",
    dew="white cobweb-like growth on the spots, gone when the dew has dried",
    sure="With a hand lens find a band that reaches from edge to edge of a blade at the rim of a spot.",
    quiet="",
    not_disease=(
        Separation(
            "spider_webs", "A web spans green grass and has a funnel; dollar spot's threads sit on bleached spots."
        ),
        Separation("dog_urine", "A dog's spot is larger and has a green rim; blades have no bands."),
        Separation("sod_webworms", "Caterpillars clip blades off and leave frass; dollar spot leaves them standing."),
        Separation("burn", "Splashes and drips have no bands on blades and do not come back next morning."),
        Separation("drought", "Drought makes no spots of one size and no bands."),
    ),
    other_diseases=(
        Separation("brown_patch", "Brown patch is larger, with tan blotches of no set shape inside the blade."),
        Separation("gray_leaf_spot", "Gray leaf spot's spots are round and velvety, its tips twisted."),
        Separation("microdochium_patch", "Microdochium patch is reddish-brown and comes in cool wet weather."),
        Separation("pythium_blight", "Pythium blight is dark and greasy and runs along water."),
        Separation("anthracnose", "Anthracnose has no even spots and shows black hairs under a hand lens."),
        Separation("large_patch", "Large patch is a foot and more across and rots sheaths, without bands on blades."),
        Separation("red_thread", "Red thread shows pink to red threads at the tips."),
    ),
    places=("past_patches", "shade", "still_air", "low_nitrogen", "dry_places", "thatch", "low_wet"),
    unsure="Put a plug in a closed box with a damp towel overnight: white threads by morning speak for it.",
    sources=(
        Source("University of Missouri Extension IPM1029, dollar spot", "read second-hand"),
        Source("University of Wisconsin Turfgrass Diagnostic Lab, dollar spot", "read second-hand"),
        Source("Wells, Mississippi State University Extension, 2007", "read second-hand"),
        Source("closed box overnight; no reddish edge on annual bluegrass", "from memory"),
    ),
)

PYTHIUM_BLIGHT = GuideEntry(
    disease="pythium_blight",
    first_month=6,
    last_month=9,
    look_at="dawn",
    hour="at dawn, and again in the evening of a hot wet day: it can run over a lawn in a night",
    weather="on the first mornings of a hot wet spell: days above 30\u00a0°C (86\u00a0°F), nights above "
    "20\u00a0°C (68\u00a0°F), air wet all night",
    patch="small sunken dark greasy spots of one to six inches that run together into streaks along the way water "
    "flows or the mower went; later reddish to light brown and matted",
    blade="water-soaked, slimy to the touch and sticking together; no lesions with an edge",
    base="crowns may turn soft; roots mostly sound where only the leaf is blighted",
    dew="white cottony growth, thicker than in other diseases, on the matted grass",
    sure="Feel it at dawn: greasy, matted, no lesions, cotton on top, and lying where water runs.",
    quiet="",
    not_disease=(
        Separation("spider_webs", "A web lies over standing green grass; Pythium's cotton lies on dark matted grass."),
        Separation("burn", "Burn and Pythium can both follow wheels; burnt blades are dry and bleached, never greasy."),
        Separation("heat_tracks", "Heat tracks come on dry turf by day; Pythium comes on wet turf overnight."),
        Separation("drought", "Drought is dull and dry; Pythium is dark and slimy."),
    ),
    other_diseases=(
        Separation("brown_patch", "Brown patch has tan lesions with a brown edge and does not follow water."),
        Separation(
            "gray_leaf_spot", "Gray leaf spot also mats and looks greasy; a lens finds round spots with an edge."
        ),
        Separation("dollar_spot", "Dollar spot's spots are bleached, dry and of one size."),
    ),
    places=(
        "water_lines",
        "low_wet",
        "still_air",
        "shade",
        "evening_water",
        "new_turf",
        "high_nitrogen",
        "past_patches",
    ),
    unsure="Keep off it while it is wet, since feet and wheels carry it; a plug in a closed box with a damp towel "
    "grows white cotton overnight.",
    sources=(
        Source("University of Illinois Extension, Pythium blight", "read second-hand"),
        Source("University of Wisconsin Turfgrass Diagnostic Lab, Pythium blight", "read second-hand"),
        Source("Kansas State University turf notes, 2016; tracks, burn, and the closed box", "read second-hand"),
        Source("Nutter, Cole & Schein 1983, Plant Dis. 67:1126-1128; the temperatures", "abstract read"),
        Source("crowns and roots", "from memory"),
    ),
)

ENTRIES = (BROWN_PATCH, DOLLAR_SPOT, PYTHIUM_BLIGHT)
