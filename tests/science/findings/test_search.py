"""A whole run: what it finds in towns with a cause, and that it finds nothing without one."""

import dataclasses

import numpy as np
from statsmodels.stats.multitest import multipletests

from survey.science.findings.attribution import crude, hangs_on_one_place, hold_up
from survey.science.findings.records import AXES, UNKNOWN
from survey.science.findings.search import ask, search
from tests.science.findings.town import spread, town


def test_a_place_is_named_once_and_its_loads_and_kinds_are_not():
    site, planting, dice = spread(seed=1)
    has = dice.random(len(site)) < np.where(site == 2, 0.9, 0.09)
    run = search({"bark": town(has, site, planting, species=planting % 2)})
    assert [(one.axis, one.level, one.standing) for one in run.found] == [("site", 2, "alone")]
    [found] = run.found
    assert found.crude.table.of_here == 30
    assert found.after_many < 1e-6


def test_a_nursery_with_two_bad_loads_is_named_once_and_its_places_are_not():
    site, planting, dice = spread(seed=2, each=4)
    keep = (planting > 1) | (site < 4)
    site, planting = site[keep], planting[keep]
    supplier = np.where(planting < 2, 0, np.where(planting < 4, 1, 2))
    has = dice.random(len(site)) < np.where(supplier == 0, 0.65, 0.04)
    run = search({"bark": town(has, site, planting, supplier=supplier)})
    assert [(one.axis, one.level, one.standing) for one in run.found] == [("supplier", 0, "alone")]


def test_one_bad_load_of_a_nursery_is_the_load_and_not_the_nursery():
    site, planting, dice = spread(seed=3, each=4)
    supplier = planting // 3
    has = dice.random(len(site)) < np.where(planting == 0, 0.7, 0.04)
    run = search({"bark": town(has, site, planting, supplier=supplier)})
    assert [(one.axis, one.level) for one in run.found] == [("planting", 0)]


def test_a_kind_of_tree_that_suffers_everywhere_is_named():
    site, planting, dice = spread(seed=4)
    species = dice.integers(0, 3, len(site))
    has = dice.random(len(site)) < np.where(species == 1, 0.5, 0.05)
    run = search({"spots": town(has, site, planting, species=species, supplier=planting % 2)})
    assert [(one.axis, one.level) for one in run.found] == [("species", 1)]


def test_a_load_that_is_all_of_a_place_is_told_once_and_left_open():
    site = np.repeat(np.arange(6), 20)
    dice = np.random.default_rng(5)
    has = dice.random(120) < np.where(site == 0, 0.9, 0.08)
    [found] = search({"bark": town(has, site, site)}).found
    assert (found.axis, found.standing) == ("site", "cannot_tell")


def test_looks_at_planting_tell_a_place_from_a_load_that_stands_nowhere_else():
    site = np.repeat(np.arange(6), 20)
    dice = np.random.default_rng(5)
    has = dice.random(120) < np.where(site == 0, 0.9, 0.08)
    nursery = np.where(site < 3, 0, 1)
    [untold] = search({"bark": town(has, site, site, supplier=nursery)}).found
    [told] = search({"bark": town(has, site, site, supplier=nursery, whole=site == 0)}).found
    assert (untold.axis, untold.standing) == ("site", "cannot_tell")
    assert (told.axis, told.standing) == ("site", "alone")


def test_a_kind_that_only_stands_where_things_are_bad_is_not_named():
    """Lindens stand where the mower passes, and came in the bad load: elsewhere they are whole."""
    dice = np.random.default_rng(9)
    site = np.repeat([0, 1, 2, 3], 60)
    planting = np.tile([0, 1, 2], 80)
    linden = (dice.random(240) < np.where((site == 0) | (planting == 0), 0.8, 0.2)).astype(int)
    has = dice.random(240) < np.where((site == 0) | (planting == 0), 0.7, 0.03)
    run = search({"bark": town(has, site, planting, species=linden)})
    assert {one.axis for one in run.found} & {"site", "planting", "supplier"}
    assert "species" not in {one.axis for one in run.found}


def test_a_kind_that_suffers_at_one_place_only_is_no_matter_of_the_kind():
    """Maples are hurt at site 0, lindens beside them are not, and maples elsewhere are not."""
    site, planting, dice = spread(seed=10)
    maple = dice.integers(0, 2, len(site))
    has = dice.random(len(site)) < np.where((site == 0) & (maple == 1), 0.9, 0.03)
    run = search({"shoots": town(has, site, planting, species=maple)})
    assert "species" not in {one.axis for one in run.found}
    everywhere = dice.random(len(site)) < np.where(maple == 1, 0.4, 0.03)
    run = search({"shoots": town(everywhere, site, planting, species=maple)})
    assert ("species", 1) in {(one.axis, one.level) for one in run.found}


def test_a_kind_is_compared_within_the_sites_and_not_told_when_one_site_has_all_its_signs():
    """Field maples: 14 of 28 at one site with lindens beside them, none of 58 at two others."""
    kinds = [(0, 1, 28, 14), (0, 0, 20, 1), (1, 1, 41, 0), (1, 0, 8, 0), (2, 1, 17, 0)]
    kinds += [(2, 0, 26, 2), (3, 0, 133, 6), (4, 0, 131, 6)]
    site, maple, has = (
        np.concatenate([np.array(column) for column in columns])
        for columns in zip(
            *(([s] * of, [kind] * of, np.arange(of) < signed) for s, kind, of, signed in kinds),
            strict=True,
        )
    )
    seen = town(has, site, site, species=maple)
    assert crude(seen, seen.species == 1).p < 0.002
    assert hold_up(seen, "species", 1, "site_and_planting").within.verdict == "persists"
    assert hangs_on_one_place(seen, "species", 1)
    assert "species" not in {one.axis for one in search({"shoots": seen}).found}


def test_a_few_whole_trees_of_the_kind_elsewhere_do_not_make_it_a_matter_of_the_kind():
    """Six maples elsewhere leave room for much, and are no evidence that maples suffer there."""
    site = np.array([0] * 40 + [1] * 46)
    maple = np.array([1] * 20 + [0] * 20 + [1] * 6 + [0] * 40)
    has = np.array([True] * 16 + [False] * 4 + [True] + [False] * 19 + [False] * 44 + [True] * 2)
    assert hangs_on_one_place(town(has, site, site, species=maple), "species", 1)


def test_a_kind_that_shows_it_within_two_sites_is_told_and_one_mixed_by_site_is_not():
    site = np.repeat([0, 1, 2], 40)
    maple = np.tile([1] * 20 + [0] * 20, 3)
    shows = np.tile([True] * 14 + [False] * 6 + [True] + [False] * 19, 3)
    assert not hangs_on_one_place(town(shows, site, site, species=maple), "species", 1)
    # most maples with it stand where every tree has it, whatever its kind: one site is left
    some = (site == 1) | ((site == 0) & shows)
    assert hangs_on_one_place(town(some, site, site, species=maple), "species", 1)


def test_a_load_with_no_sign_at_its_other_places_hangs_on_the_one():
    site = np.array([0] * 12 + [1] * 6 + [0] * 30 + [1] * 30)
    planting = np.array([0] * 18 + [1] * 60)
    has = np.array([True] * 9 + [False] * 9 + [False] * 58 + [True] * 2)
    assert hangs_on_one_place(town(has, site, planting), "planting", 0)


def test_soil_has_no_nursery():
    site, planting, dice = spread(seed=8)
    has = dice.random(len(site)) < np.where(site == 1, 0.8, 0.1)
    seen = dataclasses.replace(town(has, site, planting), axes=("site",))
    [found] = search({"soil": seen}).found
    assert (found.axis, found.level, found.standing, found.held) == ("site", 1, "alone", ())


def test_groups_under_five_trees_are_not_asked_about():
    seen = town([True] * 4 + [False] * 40, [0] * 4 + [1] * 40, [0] * 44)
    asked = ask("bark", seen, "site")
    assert [q.level for q in asked] == []  # nor is the rest, which four trees cannot be held up to
    assert search({"bark": seen}).found == ()


def test_unknown_suppliers_are_no_supplier():
    seen = town([True] * 20 + [False] * 20, [0] * 40, [0] * 40, supplier=[UNKNOWN] * 20 + [1] * 20)
    assert ask("bark", seen, "supplier") == []


def test_all_questions_of_a_run_are_corrected_together():
    site, planting, dice = spread(seed=6)
    seen = {
        "bark": town(dice.random(len(site)) < 0.2, site, planting),
        "spots": town(dice.random(len(site)) < 0.3, site, planting),
    }
    questions = [q for sign in seen for axis in AXES for q in ask(sign, seen[sign], axis)]
    beside = [0.0004, 0.5]
    run = search(seen, beside)
    theirs = multipletests([*(q.p for q in questions), *beside], method="fdr_bh")[1]
    assert run.asked == len(theirs)
    assert np.allclose(run.others, theirs[-2:])


def test_towns_without_a_cause_show_a_finding_in_one_run_of_twenty_at_most():
    """Towns as they are: plantings of 5 to 40 trees at one to three sites, several signs."""
    dice = np.random.default_rng(20)
    towns, wrong = 240, 0
    for _town in range(towns):
        site, planting, species = [], [], []
        for load in range(14):
            places = dice.choice(10, size=dice.integers(1, 4), replace=False)
            number = int(dice.integers(5, 41))
            site += list(dice.choice(places, number))
            planting += [load] * number
            species += list(dice.choice(5, size=2)[dice.integers(0, 2, number)])
        signs = {
            str(k): town(
                dice.random(len(site)) < dice.uniform(0.03, 0.4),
                site,
                planting,
                supplier=np.array(planting) % 4,
                species=species,
                rounds=np.array(site) % 3,
            )
            for k in range(6)
        }
        wrong += bool(search(signs).found)
    assert wrong <= towns * 0.05


def test_a_city_is_gone_through():
    dice = np.random.default_rng(21)
    trees = 100_000
    site = dice.integers(0, 2500, trees)
    planting = site // 3 + 1000 * dice.integers(0, 2, trees)
    signs = {}
    for k, share in enumerate((0.02, 0.1, 0.3)):
        chance = np.where(site == 7, 0.95, share)
        signs[str(k)] = town(
            dice.random(trees) < chance,
            site,
            planting,
            supplier=planting % 40,
            species=dice.integers(0, 30, trees),
        )
    run = search(signs)
    assert {(one.axis, one.level) for one in run.found} >= {("site", 7)}
