"""What is told of the demo towns can be seen in their rows, and every row reads truthfully."""

from collections import Counter
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.apps import apps
from django.db.models import F, JSONField, Q

from survey.audit.models import Entry
from survey.chores.models import Chore
from survey.handbook.book import book
from survey.people.models import Person
from survey.reports.models import Decision, Report, ReportSign
from survey.trees.models import (
    Acceptance,
    Area,
    CareGiven,
    Happening,
    Look,
    LookSign,
    Permission,
    Planting,
    Site,
    Tree,
)
from survey.workorders.models import OrderLine, WorkOrder

TODAY = date(2026, 6, 16)
NOW = datetime.combine(TODAY, time(0, 35), ZoneInfo("Atlantic/Azores"))


def _trees(**where):
    return Tree.objects.filter(area__ref="pellworth", **where)


def _reports(**where):
    return Report.objects.filter(area__ref="pellworth", **where)


class TestTruth:
    def test_every_row_fits_its_columns_and_choices_on_any_database(self, demo):
        for model in apps.get_app_config("survey").get_models():
            left_out = [
                field.name
                for field in model._meta.fields
                if field.is_relation or isinstance(field, JSONField)
            ]
            for row in model._default_manager.all():
                row.clean_fields(exclude=left_out)

    def test_every_code_is_in_the_handbook(self, demo):
        known = book()

        def used(model, name):
            return set(model._default_manager.values_list(name, flat=True)) - {""}

        assert used(Tree, "species") <= set(known.species)
        assert used(LookSign, "sign") | used(ReportSign, "sign") <= set(known.signs)
        assert used(LookSign, "extent") | used(Report, "extent") <= set(known.extents)
        assert used(LookSign, "side") | used(Report, "side") <= set(known.sides)
        assert used(Report, "danger") <= set(known.dangers)
        assert used(Report, "picture") <= set(known.picture_scale)
        care = used(OrderLine, "care") | used(CareGiven, "care") | used(Permission, "care")
        assert care <= set(known.care)
        assert used(Happening, "kind") <= set(Happening.Kind.values)

    def test_neighbors_only_tick_signs_that_they_are_shown(self, demo):
        shown = {sign.code for sign in book().signs_for("neighbor")}
        assert set(ReportSign.objects.values_list("sign", flat=True)) <= shown

    def test_nothing_happened_after_today(self, demo):
        for area in Area.objects.all():
            assert not Look.objects.filter(tree__area=area, day__gt=area.data_date).exists()
            assert not Report.objects.filter(area=area, seen_on__gt=area.data_date).exists()
            assert not CareGiven.objects.filter(
                tree__area=area, given_to__gt=area.data_date
            ).exists()
        assert not Report.objects.filter(area__ref="pellworth", submitted_at__gt=NOW).exists()
        assert not Entry.objects.filter(at__gt=NOW).exists()

    def test_no_look_is_older_than_its_tree(self, demo):
        assert not Look.objects.filter(day__lt=F("tree__planted_from")).exists()
        trained = Look.objects.trained()
        assert not trained.filter(day__lt=F("tree__registered_on")).exists()

    def test_no_trained_look_finds_a_tree_that_had_left(self, demo):
        standing = Look.objects.trained().filter(presence="standing", tree__left__gt="")
        later = standing.filter(day__gt=F("tree__left_to"))
        assert not later.exclude(tree__left="died").exists()
        assert not later.exclude(condition="dead").exists()

    def test_a_tree_died_between_the_last_look_alive_and_the_first_look_dead(self, demo):
        for tree in Tree.objects.filter(left="died").prefetch_related("looks"):
            trained = [look for look in tree.looks.all() if look.trained]
            alive = [
                look.day
                for look in trained
                if look.presence == "standing" and look.condition != "dead"
            ]
            assert tree.left_from == max(alive, default=tree.planted_from)

    def test_a_replacement_is_a_tree_of_its_own_planting_at_the_place_of_one_that_left(self, demo):
        new = _trees(replaces__isnull=False).select_related("replaces")
        assert new.count() >= 5
        for tree in new:
            assert tree.replaces.left
            assert tree.replaces.left_to < tree.planted_from
            assert tree.planting_id != tree.replaces.planting_id
            assert tree.site_id == tree.replaces.site_id

    def test_the_audit_knows_every_report_decision_and_order(self, demo):
        acts = Counter(Entry.objects.values_list("act", flat=True))
        assert acts["report.submitted"] == Report.objects.count()
        assert acts["tree.registered"] == Tree.objects.count()
        assert acts["look.recorded"] == Look.objects.count()
        assert acts["order.drafted"] == WorkOrder.objects.count()
        for outcome in Decision.Outcome.values:
            made = Decision.objects.filter(outcome=outcome).count()
            assert acts[f"report.{outcome}"] == made
        whos = set(Entry.objects.values_list("who", flat=True)) - {"nobody"}
        assert whos <= {f"person:{key}" for key in Person.objects.values_list("key", flat=True)}

    def test_the_figures_are_asked_for_at_once(self, demo):
        kinds = Counter(Chore.objects.values_list("kind", flat=True))
        assert kinds["count_planting"] == Planting.objects.count()
        assert kinds["roll_up_trend"] == Site.objects.count()


class TestStories:
    @staticmethod
    def _wounded(trees, since=date(2026, 4, 1)):
        cut = LookSign.objects.filter(sign="bark_wound", look__trained=True, look__day__gte=since)
        return trees.filter(pk__in=cut.values("look__tree"))

    def test_at_quarry_green_the_bark_is_cut_beside_the_turf_and_whole_in_the_beds(self, demo):
        here = _trees(planting__ref="quarry-green-2023", left="")
        beds = here.filter(landmark__startswith="in the bed")
        turf = here.exclude(landmark__startswith="in the bed")
        assert self._wounded(turf).count() > 0.75 * turf.count()
        assert self._wounded(beds).count() == 0

    def test_the_cuts_are_on_the_lawn_side_and_began_with_the_new_contractor(self, demo):
        change = Happening.objects.get(kind="new_contractor").from_day
        signs = LookSign.objects.filter(
            sign="bark_wound", look__trained=True, look__tree__planting__ref="quarry-green-2023"
        )
        after = signs.filter(look__day__gt=change)
        before = signs.filter(look__day__lte=change).values("look__tree").distinct()
        assert before.count() * 5 < after.values("look__tree").distinct().count()
        assert after.filter(side__in=["street", "all_round"]).count() == after.count() > 50

    def test_one_nurserys_trees_came_wounded_to_several_sites(self, demo):
        marked = (
            Q(base_street="marked")
            | Q(base_path="marked")
            | Q(base_left="marked")
            | Q(base_right="marked")
        )
        looks = Acceptance.objects.filter(look__tree__area__ref="pellworth")
        theirs = looks.filter(look__tree__planting__supplier="Farrow Hill Trees")
        assert theirs.filter(marked).count() > 0.4 * theirs.count()
        assert not looks.exclude(look__tree__planting__supplier="Farrow Hill Trees").filter(marked)
        assert theirs.values("look__tree__site").distinct().count() >= 3
        assert theirs.filter(accepted=False).exists()

    def test_the_thirsty_street_lost_trees_in_its_first_summer_and_the_square_hardly_any(
        self, demo
    ):
        thirsty = _trees(planting__ref="ferry-road-2023")
        first_summer = thirsty.filter(left="died", left_to__range=["2024-06-01", "2024-11-30"])
        assert 5 <= first_summer.count() <= 18
        happy = _trees(planting__ref="foundry-square-2021")
        assert happy.filter(left="").count() >= happy.count() - 2

    def test_crape_myrtles_reported_dead_in_april_are_answered_bare_but_alive(self, demo):
        april = _reports(
            tree__species="crape_myrtle",
            submitted_at__month=4,
            signs__sign="bare_branches",
            state="answered",
            decisions__message__startswith="Bare, but alive",
        )
        assert april.count() >= 10
        for report in april:
            answer = report.decisions.get(outcome="answer")
            assert Look.objects.filter(
                tree=report.tree,
                trained=True,
                scratch="green",
                leaf__in=["bare", "partial"],
                entered_at__lt=answer.at,
                day__gte=answer.at.date() - timedelta(days=21),
            ).exists()

    def test_ties_were_left_on_too_long_at_the_school(self, demo):
        late = LookSign.objects.filter(
            sign="tie_cuts_in",
            look__trained=True,
            look__tree__planting__ref="lantern-school-2024",
            look__day__gte=date(2025, 6, 1),
        )
        assert late.count() >= 10

    def test_trees_entered_late_because_of_reports_and_left_in_every_way(self, demo):
        assert (
            _trees(registered_because="inventory", registered_on__gt=F("planted_to")).count() > 50
        )
        assert _trees(registered_because="report").count() >= 8
        assert set(_trees().exclude(left="").values_list("left", flat=True)) == set(
            Tree.Left.values
        )
        assert _trees(left="removed_other", site__ref="kiln-bank").count() == 6

    def test_trees_that_a_report_brought_in_have_that_report(self, demo):
        for tree in _trees(registered_because="report"):
            assert tree.reports.filter(day=tree.registered_on).exists()
