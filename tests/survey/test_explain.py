"""A tree is explained on a terminal: found by its tag, in aligned figures, in either language."""

import gettext
import re
from datetime import date
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.utils.translation import trans_real

from survey.condition import learning
from survey.condition.models import Overruling
from tests.factories import (
    NOON,
    AreaFactory,
    LookFactory,
    ObserverFactory,
    PlantingFactory,
    SiteFactory,
    TreeFactory,
)

pytestmark = pytest.mark.django_db


def explain(*words, **options):
    said = StringIO()
    call_command("explain", *words, stdout=said, **options)
    return said.getvalue()


@pytest.fixture
def tree():
    tree = TreeFactory(tag="0407")
    LookFactory(tree=tree, day=date(2025, 9, 8), condition="thriving")
    LookFactory(tree=tree, day=date(2026, 5, 20), condition="dead", scratch="brown", leaf="bare")
    learning.keep(learning.work_out(str(tree.area.pk)))
    return tree


def test_it_says_what_is_believed_and_why(tree):
    said = explain("0407")
    lines = said.splitlines()
    assert lines[0] == f"Linden 0407, {tree.site.name}, Pellworth"
    assert lines[1] == "Jun 2026"
    assert "trees like this are dead or gone" in said
    assert "A trained volunteer found it dead in May." in said
    assert "Without it:" in said
    assert "(version 1)" in said
    assert lines[-1] == "This town and its trees are invented. Nothing here happened."
    assert max(map(len, lines)) <= 100


def test_its_figures_stand_in_columns_and_add_up(tree):
    lines = explain("0407", "--all", claim="worse").splitlines()
    points = [re.search(r"([+−]\d+\.\d)\s{2}", line) for line in lines]
    found = [match for match in points if match]
    assert len({match.end(1) for match in found}) == 1
    *each, together = [float(match[1].replace("−", "-")) for match in found]
    assert sum(each) == pytest.approx(together, abs=0.05 * len(found))
    assert len(each) == 5


def test_looks_before_the_last_clear_one_are_folded_and_still_counted(tree):
    LookFactory(tree=tree, day=date(2025, 6, 8), condition="thriving")
    LookFactory(tree=tree, day=date(2025, 7, 8), condition="thriving")
    said = explain("0407")
    assert "2 looks before that" in said
    assert "June 2025" not in said
    assert "June 2025" in explain("0407", "--all")
    assert (
        explain("0407").split("all together")[1]
        == explain("0407", "--all").split("all together")[1]
    )


def test_a_tree_is_also_found_by_its_short_name(tree):
    assert explain(tree.ref) == explain("0407")


def test_an_unknown_tag_is_answered_with_tags_near_it(tree):
    TreeFactory(tag="9315")
    with pytest.raises(CommandError, match=r"There is no tree 0470\. Near it: 0407"):
        explain("0470")
    with pytest.raises(CommandError, match=r"There is no tree Ω\.$"):
        explain("Ω")


@pytest.mark.parametrize("tag", ["", " ", "'; drop table", "0407\u200b" * 50, "%", "_"])
def test_any_text_at_all_is_no_tree(tree, tag):
    with pytest.raises(CommandError, match="There is no tree"):
        explain(tag)


def test_a_tag_in_two_areas_is_asked_about(tree):
    other = AreaFactory(ref="elsewhere", name="Elsewhere", is_home=False)
    site, planting = SiteFactory(area=other), PlantingFactory(area=other)
    TreeFactory(tag="0407", site=site, planting=planting)
    with pytest.raises(CommandError, match="--area elsewhere or --area pellworth"):
        explain("0407")
    assert ", Elsewhere" in explain("0407", area="elsewhere")
    with pytest.raises(CommandError, match=r"no such area\. Areas: elsewhere, pellworth"):
        explain("0407", area="nowhere")


def test_it_looks_back_to_a_month(tree):
    said = explain("0407", at="2025-12-31")
    assert said.splitlines()[1] == "Dec 2025"
    assert "found it dead" not in said
    with pytest.raises(CommandError, match="came on the list on 2023-11-14"):
        explain("0407", at="2020-01-01")
    with pytest.raises(CommandError, match="is no day"):
        explain("0407", at="last May")


class Missed(gettext.NullTranslations):
    """What is asked of it is what the Spanish catalogue does not have."""

    def __init__(self):
        super().__init__()
        self.asked = set()

    def gettext(self, message):
        self.asked.add(message)
        return message

    def ngettext(self, msgid1, msgid2, n):
        self.asked.add(msgid1)
        return msgid1 if n == 1 else msgid2


def test_it_speaks_spanish_without_a_word_missing(tree, monkeypatch):
    missed = Missed()
    monkeypatch.setattr(trans_real.translation("es"), "_fallback", missed)
    for month in (10, 11, 12):
        LookFactory(tree=tree, day=date(2025, month, 8), condition="slipping", scratch="green")
        LookFactory(tree=tree, day=date(2025, month, 9), condition="", presence="stump")
        neighbor = ObserverFactory(kind="resident")
        wrote = {"trained": False, "channel": "complaint", "observer": neighbor}
        LookFactory(tree=tree, day=date(2025, month, 9), condition="dead", leaf="partial", **wrote)
    for claim in ("lost", "worse"):
        said = explain("0407", "--all", claim=claim, language="es")
        assert "árboles como este están" in said
        assert "Un vecino dijo en octubre de 2025 que se veía muerto." in " ".join(said.split())
    assert not missed.asked


def test_whoever_runs_the_server_reads_the_reason_of_an_overruling(tree):
    Overruling.objects.create(
        tree=tree,
        state="holding",
        day=date(2026, 6, 10),
        reason="Buds are plump all over.",
        by_key="person:ada",
        by_name="Ada",
        at=NOON,
    )
    said = " ".join(explain("0407").split())
    assert "The reason given: “Buds are plump all over.”" in said
    assert "Ada" not in said
