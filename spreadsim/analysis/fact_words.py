"""Drawn parameters in a steward's words, and how one would go about measuring them on a site."""

from collections.abc import Mapping
from types import MappingProxyType

# name of the parameter: what it is; how it is measured (common practice, no source)
PLAIN: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "mat.front_speed": ("how fast the edge of a mat advances", "flag some edges in winter, measure a year later"),
        "mat.cover_doubling_time": ("how fast a thin mat thickens", "photograph fixed plots two winters running"),
        "mat.max_cover": ("how densely the oldest mat covers the ground", "estimate cover in plots in the oldest mat"),
        "mat.shade_factor": ("how much slower it grows in shade", "flag edges in shade and in gaps alike"),
        "mat.rooted_pieces": ("rooted pieces in a square metre of mat", "dig up some small plots"),
        "mat.density_on_arrival": ("how thin the mat's edge is", "estimate cover in a strip along the edge"),
        "mat.founder_area": ("size at which a seedling patch starts to spread", "measure the smallest rooted patches"),
        "climb.climb_rate": ("how soon trees standing in mat are climbed", "count bare trees in mat, again in a year"),
        "climb.vertical_speed": ("how fast stems climb", "mark the tips of some stems, measure a year later"),
        "climb.years_to_first_fruit": ("years from climbing to fruit", "ring-count some cut stems that bear fruit"),
        "climb.light_to_fruit": ("light that it needs to fruit", "note in what light fruiting stems stand"),
        "climb.share_of_mature_climbers_fruiting": (
            "share of old climbing stems that fruit",
            "look for fruit on old climbing stems in autumn, with field glasses",
        ),
        "climb.max_height": ("how high it climbs", "measure the highest stems"),
        "climb.years_to_refruit": ("years until a cut host fruits again", "tag cut hosts, look each autumn"),
        "climb.resprout_time": ("how soon a cut base sprouts", "tag cut bases, look each season"),
        "seed.fruits_per_host": ("fruits on a fruiting host", "count on some branches and scale up"),
        "seed.seeds_per_fruit": ("seeds in a fruit", "open a few dozen fruits"),
        "seed.share_taken_by_birds": ("share of the fruit that birds take", "count under and on some hosts twice"),
        "seed.germination": ("share of seed that germinates", "sow some in pots on the site"),
        "seed.seed_bank_life": ("how long seed lives in the soil", "bury bags of seed, dig one up a year"),
        "seed.first_winter_survival": ("seedlings that live through a winter", "tag seedlings in autumn and spring"),
        "seed.seedling_to_rooted_patch": ("seedlings that become patches", "tag seedlings and follow them"),
        "seed.years_seed_to_patch": ("years from seed to a patch", "tag seedlings and follow them"),
        "seed.patches_founded": (
            "lasting patches that a fruiting host founds a year",
            "count small far patches at each winter's scouting, by the fruiting hosts there were",
        ),
        "seed.crop_spread": ("how unlike the crops of hosts and years are", "count fruit on some hosts each year"),
        "birds.median_distance": ("how far birds carry the seed", "map young patches and the nearest fruiting host"),
        "birds.share_far": ("share of seed that birds carry far", "map young patches far from any fruiting host"),
        "birds.perch_bias_open": (
            "how much seed falls under perches in the open",
            "count seedlings there and beside",
        ),
        "birds.perch_bias_forest": (
            "how much seed falls under perches in woods",
            "count seedlings there and beside",
        ),
        "impact.native_cover_under_full_mat": ("native plants left under full mat", "plots in and beside the mat"),
        "impact.native_recovery_time": ("how soon natives come back", "plots on cleared ground, each spring"),
        "impact.native_recovery_ceiling": ("how far natives come back", "plots on ground cleared long ago"),
        "impact.tree_failure_factor": ("how much likelier climbed trees fall", "note fallen trees, climbed and clean"),
        "impact.tree_failure_base": ("how often clean trees fall", "note fallen trees each year"),
        "disturbance.release_factor": ("how much it gains where shrubs were removed", "flag edges in such gaps"),
        "disturbance.release_years": ("how long it gains where shrubs were removed", "flag edges in such gaps"),
    }
)
# what a treatment's number is about, by its name behind the dot
_ROLES: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "stem_kill": ("stems that die", "tag worked hosts, look a year later"),
        "stem_kill_volunteers": ("stems that die when volunteers do it", "tag worked hosts, look a year later"),
        "base_kill": ("bases that die", "tag worked hosts, look for sprouts a year later"),
        "mat_kill": ("mat that dies at the first pass", "plots before, and a year after"),
        "seedling_kill": ("seedlings that die", "plots before, and a year after"),
        "kill_variation": ("how much the kill differs from visit to visit", "tag what several visits worked"),
        "hours_per_host": ("hours that a host takes", "write down hours and hosts of some work days"),
        "hours_per_area": ("hours that an area takes", "write down hours and area of some work days"),
        "hauling_share": ("extra hours for hauling out", "write down the hours of some work days"),
        "reroots": ("pulled pieces that root again", "look at some piles a season later"),
        "crop_prevented_ripe": ("share of a ripe crop that is prevented", "count what falls from cut stems"),
        "ring_radius": ("width of the ring kept bare", "measure some rings after a year"),
        "fit_hours_per_day": ("hours fit for spraying on a fit day", "write down the weather of work days"),
        "native_loss_dormant": ("native plants lost to it in winter", "plots before, and a year after"),
        "native_loss_growing": ("native plants lost to it in the growing season", "plots before, and a year after"),
        "cryptic_share": ("share of vine that no search finds", "have ground searched twice, by different people"),
        "leaf_off_boost": ("how much better one finds it in winter", "search the same ground in summer and winter"),
        "clumping_factor": ("how much easier it is found in clumps", "have ground searched twice"),
        "search_time_constant_mat": ("time that finding mat takes", "time some searches of known ground"),
        "search_time_constant_climbing": ("time that finding climbed trees takes", "time searches of known ground"),
        "search_time_constant_seedling": ("time that finding seedlings takes", "time some searches of known ground"),
        "incidental_finds": ("finds by crews at other work", "ask crews to note what they find on the way"),
        "misidentified": ("look-alikes taken for the vine", "have finds checked by somebody who knows it"),
    }
)


def plain_fact(parameter: str) -> tuple[str, str] | None:
    """Give what a parameter is, in a steward's words, and how it is measured; None where nothing is known of it.

    Parameters
    ----------
    parameter
        "process.name" of a vine, or "treatment.name".
    """
    if parameter in PLAIN:
        return PLAIN[parameter]
    treatment, _, role = parameter.partition(".")
    if role not in _ROLES:
        return None
    what, how = _ROLES[role]
    return (f"{treatment}: {what}" if treatment != "scout" else what), how
