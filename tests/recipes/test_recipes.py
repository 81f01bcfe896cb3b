"""What DEVELOPERS.md tells a contributor to do is done in a copy, and holds.

Left out, every step is missed by a check, but for those that only a person can miss.
"""

import re
from pathlib import Path

import pytest

from tests.recipes.recipes import RECIPES, Recipe
from tests.recipes.tree import ROOT, Tree

FOLLOWED = {name: recipe for name, recipe in RECIPES.items() if recipe is not None}
LEFT_OUT = [
    (name, step)
    for name, recipe in FOLLOWED.items()
    for step in recipe.steps
    if step not in recipe.unheld
]


def followed(recipe: Recipe, place: Path, without: str = "") -> str:
    """Follow a recipe in a copy; what its checks complain of, empty where all hold."""
    tree = Tree(place)
    for name, step in recipe.steps.items():
        if name != without:
            step(tree)
    complaints = tree.run("-m", "pytest", "-q", "-x", "--tb=short", *recipe.tests)
    if complaints.returncode:
        return complaints.stdout[-4000:] + complaints.stderr[-2000:]
    said = tree.run("-c", recipe.says)
    return said.stderr[-4000:] or "it failed" if said.returncode else ""


def test_every_recipe_is_followed_here() -> None:
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    part = page.partition("## Recipes\n")[2].partition("\n## ")[0]
    assert re.findall(r"^\*\*(.+?)\.\*\*", part, re.MULTILINE) == list(RECIPES)


@pytest.mark.slow
@pytest.mark.parametrize("name", FOLLOWED)
def test_a_recipe_followed_to_the_end_passes_its_checks(
    name: str, tmp_path: Path
) -> None:
    assert not followed(FOLLOWED[name], tmp_path / "tree")


@pytest.mark.slow
@pytest.mark.parametrize(("name", "step"), LEFT_OUT)
def test_a_step_left_out_is_missed(name: str, step: str, tmp_path: Path) -> None:
    try:
        complaint = followed(FOLLOWED[name], tmp_path / "tree", without=step)
    except AssertionError:
        return  # a later step found nothing to build on
    assert complaint
