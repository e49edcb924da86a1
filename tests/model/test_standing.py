"""The page's table of parameters and the code's own lists are the same."""

from spreadsim.inputs import load_treatment, load_vine, treatment_names, vine_names
from spreadsim.model.compiled import TREATMENT_NUMBERS, VINE_NUMBERS
from spreadsim.model.standing import MARK, PAGE, page_with_table

# told to people or used before the kernels: no number of theirs
ELSEWHERE = {
    "birds.gut_retention_minutes",
    "birds.kernel",
    "birds.median_distance",
    "impact.tree_seedlings_under_full_mat",
    "mat.growth_share_by_season",
    "seed.fruit_season",
    "seed.patches_founded",
}


def test_the_table_on_the_page_is_that_of_the_profiles():
    assert PAGE.read_text(encoding="utf-8") == page_with_table()


def test_every_vine_parameter_of_the_kernels_is_in_every_profile_and_the_other_way_round():
    for name in vine_names():
        assert set(VINE_NUMBERS) | ELSEWHERE == set(load_vine(name).parameters), name


def test_every_number_of_the_table_is_on_the_page_with_its_standing():
    table = PAGE.read_text(encoding="utf-8").partition(MARK)[2]
    names = [line.split(" | ")[0].removeprefix("| ") for line in table.splitlines() if line.startswith("| ")][1:]
    wanted = {name for vine in vine_names() for name in load_vine(vine).parameters}
    wanted |= {f"{name}.{role}" for name in treatment_names() for role in load_treatment(name).parameters}
    assert set(names) == wanted
    used = {name.split(".")[1] for name in names if name.split(".")[0] in treatment_names()}
    # stand-ins and roles of treatments that a user may write need no shipped one
    assert used - set(TREATMENT_NUMBERS) <= {"search_time_constant_seedling", "volume_per_area"}
