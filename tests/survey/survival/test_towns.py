"""Two simulated towns whose truth is known run through the product and are judged by it."""

import csv
import io
import math
from pathlib import Path

import pytest
from django.utils import timezone

from survey.condition import learning
from survey.exports.kinds import EXPORTS
from survey.exports.survival import survival_rows
from survey.exports.town import import_town
from survey.exports.writing import csv_lines
from survey.survival import roll_up, stands, weighed
from survey.survival.models import Group

TOWNS = Path(__file__).parents[3] / "fixtures" / "towns"


def rows(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def asked_of(folder):
    """The cohorts and ages within the data: the latest tree of the cohort has reached the age."""
    last = int({r["key"]: r["value"] for r in rows(folder / "town.csv")}["last_month"])
    latest: dict[str, int] = {}
    for tree in rows(folder / "truth" / "truth_trees.csv"):
        planted = int(tree["planted_month"])
        latest[tree["cohort_id"]] = max(latest.get(tree["cohort_id"], 0), planted)
    return {
        (row["cohort_id"], row["age_months"]): float(row["survival_expected"])
        for row in rows(folder / "truth" / "truth_cohorts.csv")
        if row["age_months"] in {"12", "24", "36"}
        and latest[row["cohort_id"]] + int(row["age_months"]) <= last
    }


@pytest.mark.parametrize(("town", "most"), [("alder", 0.05), ("birchfield", 0.06)])
@pytest.mark.django_db
def test_survival_from_the_csv_is_close_to_the_known_truth(town, most, capsys):
    """The figure that the sentence quotes, `survival_at_least`, is the one that is judged; and of
    the reading with all evidence weighed its estimate, which must do better."""
    folder = TOWNS / town
    area = import_town(folder=folder, name=town.capitalize(), at=timezone.now()).area
    for planting in list(stands.behind(area)):
        stands.keep(stands.count(str(planting)))
    for name in list(roll_up.out_of_date(area)):
        if "|planting|" in name:
            roll_up.keep(roll_up.work_out(name))
    learning.keep(learning.work_out(str(area.pk)))
    weighed.keep(weighed.work_out(str(area.pk)))
    text = "".join(
        csv_lines(
            EXPORTS["survival"], survival_rows(Group.objects.filter(area=area, by="planting"))
        )
    )
    told = [row for row in csv.DictReader(io.StringIO(text)) if row["curve"] == "loss"]
    truth = asked_of(folder)
    assert len(truth) >= 14
    verified, held = judged(told, truth, "verified")
    better, kept = judged(told, truth, "weighed")
    with capsys.disabled():
        print(  # noqa: T201 - the figures are quoted wherever the method is described
            f"\n{town}: root-mean-square error {verified:.4f}, limits hold the truth {held} times"
            f" of {len(truth)}; all evidence weighed {better:.4f}, {kept} times"
        )
    assert better < verified <= most
    # The limits allow for chance alone. In these towns looks are also wrong (a bare tree called
    # dead, the tree beside it looked at), and the verified reading cannot see that: 95 % is out of
    # its reach.
    assert held >= 0.8 * len(truth)
    assert kept >= 0.85 * len(truth)


def judged(told, truth, reading):
    """The root-mean-square error of a reading, and how often its limits hold the truth."""
    rows = {(r["label"], r["milestone"]): r for r in told if r["reading"] == reading}
    errors, covered = [], 0
    for asked, expected in truth.items():
        row = rows[asked]
        assert row["withheld"] == "", f"{asked} is withheld: {row['withheld']}"
        errors.append(float(row["survival_at_least"]) - expected)
        covered += float(row["limit_low"]) <= expected <= float(row["limit_high"])
    return math.sqrt(sum(error**2 for error in errors) / len(errors)), covered
