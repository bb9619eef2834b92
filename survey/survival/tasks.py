"""Chores about survival."""

from survey.chores.actions import write_chores
from survey.chores.registry import handles, heals
from survey.survival import roll_up
from survey.survival.keys import keys_of
from survey.trees.models import Area, Tree


@handles("refresh_survival")
def refresh_survival(key: str) -> None:
    """Something is newly known of one tree: every group that it belongs to is worked out again."""
    tree = Tree.objects.select_related("area", "planting", "site").filter(pk=int(key)).first()
    if tree is not None:
        write_chores(
            ("roll_up_survival", roll_up.name_of(tree.area, by, group))
            for by, group in keys_of(tree).pairs()
        )


@handles("refresh_species")
def refresh_species(key: str) -> None:
    """A tree was taken out of a species: what it leaves behind is worked out again."""
    area_id, species = key.split("|", 1)
    area = Area.objects.filter(pk=int(area_id)).first()
    if area is not None:
        write_chores([("roll_up_survival", roll_up.name_of(area, "species", species))])


@handles("roll_up_survival", computes=roll_up.work_out)
def roll_up_survival(key: str, result: roll_up.Result | None) -> None:
    roll_up.keep(result)


@heals
def groups_behind_the_record():
    """Groups whose row is missing, rests on other evidence than the record holds, or is of an
    earlier day: a new day makes trees older, so every group of a living town is asked for."""
    for area in Area.objects.order_by("pk"):
        for name in roll_up.out_of_date(area):
            yield "roll_up_survival", name
