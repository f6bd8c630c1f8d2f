"""Diseases of the cold months: Microdochium patch (pink snow mold) and gray snow mold."""

from __future__ import annotations

from forecast.guide.form import GuideEntry, Separation, Source

MICRODOCHIUM_PATCH = GuideEntry(
    disease="microdochium_patch",
    first_month=10,
    last_month=5,
    look_at="dawn",
    hour="early, while the grass is wet: the pinkish threads show in the first light and then fade",
    weather="after days of fog, drizzle or thaw between 0 and 8\u00a0°C (32 and 46\u00a0°F), up to 16\u00a0°C "
    "(60\u00a0°F); no snow is needed; again on the day the snow goes",
    patch="round reddish-brown to copper spots of one to eight inches; after snow larger, bleached, with a pink rim",
    blade="water-soaked, then reddish-brown, matted; no lesions with an edge",
    base="crowns mostly sound; no hard grains",
    dew="sparse white to pink threads at the rim of a spot",
    sure="At the rim on a wet morning: pink threads and reddish-brown blades, and no hard grains on them.",
    quiet="",
    not_disease=(
        Separation("winterkill", "Winterkill makes no round spots and has no threads."),
        Separation("frost", "Frost keeps the shape of feet and wheels."),
        Separation("dog_urine", "A dog's spot has a green rim and no threads."),
        Separation("burn", "Spills and salt have ragged edges and no threads."),
    ),
    other_diseases=(
        Separation("gray_snow_mold", "Gray snow mold has hard grains on the blades and comes only after long snow."),
        Separation("dollar_spot", "Dollar spot is bleached and comes in warmth."),
        Separation("red_thread", "Red thread shows red to pink threads at the tips, most on hungry turf."),
    ),
    places=("shade", "still_air", "low_wet", "past_patches", "high_nitrogen", "thatch"),
    unsure="Put a plug in a closed box with a damp towel overnight in a cool room: pink threads speak for it.",
    sources=(
        Source("Michigan State University, Microdochium patch", "read second-hand"),
        Source("New York fact sheet, pink snow mold, as another page gives it", "read second-hand"),
        Source("closed box overnight in a cool room", "from memory"),
    ),
)

GRAY_SNOW_MOLD = GuideEntry(
    disease="gray_snow_mold",
    first_month=2,
    last_month=4,
    look_at="daylight",
    hour="in daylight on the first days after the snow has gone: the gray growth dries to a crust and blows away",
    weather="after two months or more of snow on ground that is not frozen",
    patch="straw-coloured to gray matted patches from an inch to three feet where snow lay longest",
    blade="bleached, matted, crusted with gray; hard grains the size of a pinhead, tan to reddish-brown or black",
    base="crowns often live, and the patch greens up from them",
    dew="gray-white growth on wet patches right after the snow",
    sure="Rub matted blades between two fingers and look with a hand lens: hard round grains.",
    quiet="Before and under snow nothing shows: note where snow drifts or is piled.",
    not_disease=(
        Separation("winterkill", "Winterkill follows ice, water and wind, and has no grains."),
        Separation("frost", "Frost keeps the shape of feet and wheels."),
        Separation("burn", "Salt damage runs along paths and roads, and has no grains."),
        Separation("dog_urine", "A winter's dog spots have no grains and get a green rim."),
    ),
    other_diseases=(
        Separation("microdochium_patch", "Pink snow mold has a pink rim and no grains; both can stand side by side."),
    ),
    places=("snow_piles", "past_patches", "shade", "high_nitrogen", "long_grass"),
    unsure="Wait two weeks of growth before you call turf dead; send matted blades with grains where it matters.",
    sources=(
        Source("Miller, University of Missouri, Snow molds, 2011", "read second-hand"),
        Source("New York fact sheet, pink and gray snow mold, as another page gives it", "read second-hand"),
        Source("North Carolina State and Wisconsin notes; the weeks of snow", "read second-hand"),
    ),
)

ENTRIES = (MICRODOCHIUM_PATCH, GRAY_SNOW_MOLD)
