"""The turf diseases known here: where each is looked for, in which months, and what a scout looks for."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Disease:
    """A turf disease.

    Attributes:
        key: how settings and records name it.
        name: in words.
        grasses: the grasses it is looked for on.
        first_month: first month of its season in the northern hemisphere; six months later in the southern.
        last_month: last month of its season.
        season_source: where the season comes from.
        look_for: what a scout looks for, in words.
    """

    key: str
    name: str
    grasses: tuple[str, ...]
    first_month: int
    last_month: int
    season_source: str
    look_for: str


DISEASES = MappingProxyType(
    {
        disease.key: disease
        for disease in (
            Disease(
                "brown_patch",
                "brown patch",
                (
                    "tall_fescue",
                    "perennial_ryegrass",
                    "kentucky_bluegrass",
                    "creeping_bentgrass",
                    "colonial_bentgrass",
                    "annual_bluegrass",
                    "fine_fescue",
                    "st_augustinegrass",
                ),
                5,
                9,
                "May to September, the months the index was built on (Fidanza et al. 1996)",
                "round patches from a few inches to a few feet across, sometimes with a darker rim; tan lesions on "
                "the blades; white threads in the dew at dawn (common practice, no source)",
            ),
            Disease(
                "dollar_spot",
                "dollar spot",
                (
                    "creeping_bentgrass",
                    "colonial_bentgrass",
                    "perennial_ryegrass",
                    "kentucky_bluegrass",
                    "tall_fescue",
                    "annual_bluegrass",
                    "fine_fescue",
                    "bermudagrass",
                    "zoysiagrass",
                ),
                5,
                11,
                "May to November, three epidemics a year in Maryland (Ryan, Dernoeden & Grybauskas 2012)",
                "straw-coloured spots the size of a coin; hourglass lesions across the blades; white threads in the "
                "dew at dawn",
            ),
            Disease(
                "large_patch",
                "large patch",
                ("zoysiagrass", "st_augustinegrass", "centipedegrass", "bermudagrass"),
                9,
                5,
                "autumn to spring, when warm-season turf goes into dormancy and comes out of it (Green et al. 1993)",
                "round patches from one foot to many feet across with an orange or bronze rim; leaf sheaths rotted "
                "near the ground, so that shoots pull out with ease",
            ),
            Disease(
                "spring_dead_spot",
                "spring dead spot",
                ("bermudagrass", "zoysiagrass"),
                9,
                12,
                "September to December, while soil is below 21 °C (70 °F) and above 10 °C (50 °F), when roots are "
                "infected (Clemson University fact sheet, read second-hand); in South Carolina that lasts into "
                "December; its rings show at green-up",
                "rings of dead turf at green-up in spring, from inches to a few feet across, in the same spots each "
                "year; roots and stolons black and brittle",
            ),
            Disease(
                "pythium_blight",
                "Pythium blight",
                (
                    "perennial_ryegrass",
                    "creeping_bentgrass",
                    "colonial_bentgrass",
                    "annual_bluegrass",
                    "tall_fescue",
                    "kentucky_bluegrass",
                    "fine_fescue",
                ),
                6,
                9,
                "June to September, the warm months in which nights stay above 20 °C (Nutter, Cole & Schein 1983)",
                "small sunken greasy patches that run together along the way water flows, with white cottony growth "
                "at dawn",
            ),
            Disease(
                "anthracnose",
                "anthracnose",
                ("annual_bluegrass", "creeping_bentgrass"),
                5,
                9,
                "May to September; house choice around the summers of Danneberger, Vargas & Jones 1984",
                "yellow to bronze turf in irregular patches; small black tufts of hairs on dying blades under a hand "
                "lens",
            ),
            Disease(
                "gray_leaf_spot",
                "gray leaf spot",
                ("perennial_ryegrass", "tall_fescue", "st_augustinegrass"),
                6,
                10,
                "June to October; house choice around the warm wet months that extension notes name",
                "gray to brown spots with a dark rim on the blades; on ryegrass twisted, hooked leaf tips",
            ),
            Disease(
                "summer_patch",
                "summer patch",
                ("kentucky_bluegrass", "annual_bluegrass", "fine_fescue"),
                4,
                9,
                "April, when roots begin to be infected, to September; the preventive start is in spring (Rutgers "
                "note, read second-hand)",
                "rings and crescents of straw-coloured turf in hot weather, often with green grass in the middle; "
                "roots brown to black",
            ),
            Disease(
                "microdochium_patch",
                "Microdochium patch (pink snow mold)",
                (
                    "annual_bluegrass",
                    "creeping_bentgrass",
                    "colonial_bentgrass",
                    "perennial_ryegrass",
                    "kentucky_bluegrass",
                    "tall_fescue",
                    "fine_fescue",
                ),
                10,
                5,
                "October to May, the cool wet months (extension notes, read second-hand)",
                "small round reddish-brown spots in cool wet weather; pinkish rims after snow",
            ),
            Disease(
                "gray_snow_mold",
                "gray snow mold",
                (
                    "annual_bluegrass",
                    "creeping_bentgrass",
                    "colonial_bentgrass",
                    "perennial_ryegrass",
                    "kentucky_bluegrass",
                    "tall_fescue",
                    "fine_fescue",
                ),
                11,
                4,
                "November to April, under snow and after it (extension notes, read second-hand)",
                "bleached matted patches where snow lay long; hard reddish-brown to black grains on the blades",
            ),
            Disease(
                "stem_rust",
                "stem rust",
                ("perennial_ryegrass", "kentucky_bluegrass", "tall_fescue"),
                6,
                10,
                "June to October; house choice",
                "orange to brick-red powder on blades and stems that rubs off on shoes",
            ),
            Disease(
                "take_all_patch",
                "take-all patch",
                ("creeping_bentgrass", "colonial_bentgrass"),
                9,
                6,
                "autumn to early summer, when soil is cool and wet (UC IPM, read second-hand)",
                "bronze rings and patches in spring and early summer; roots black and rotten",
            ),
        )
    }
)
