"""The decision is made from the record: looks, calendar, frost, rain, belief, answers to checks."""

from datetime import date, timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from survey.audit.models import Entry
from survey.causes.actions.note_graft import note_graft
from survey.causes.models import ClueNoted
from survey.causes.saving import decision_of
from survey.causes.saving_words import LINES, NEEDS, TITLES, VERDICTS, plainly, said_of
from survey.science.saving.grounds import GROUNDS
from survey.trees.models import Happening, LookSign, Weather
from tests.factories import (
    NOON,
    TODAY,
    AreaFactory,
    LookFactory,
    PersonFactory,
    PhotoFactory,
    TreeFactory,
)
from tests.survey.belief_rows import belief

pytestmark = pytest.mark.django_db
SEPTEMBER = date(2026, 9, 1)
JANUARY = date(2026, 1, 20)


def dead_visit(tree, day, **more):
    found = {"condition": "dead", "leaf": "bare", "scratch": "brown"}
    return LookFactory(tree=tree, day=day, **found | more)


@pytest.fixture
def dead_tree():
    tree = TreeFactory()
    dead_visit(tree, date(2026, 7, 1), trained=False).photos.add(PhotoFactory())
    dead_visit(tree, date(2026, 8, 10))
    return tree


def codes(lines):
    return [line.code for line in lines]


def test_two_visits_with_a_photo_are_dead_and_replaced_in_season(dead_tree):
    decision = decision_of(dead_tree, SEPTEMBER)
    assert decision.state.name == "dead"
    assert decision.choice.verdict == "replace"
    assert decision.choice.plant_from == date(2026, 10, 1)
    told = said_of(decision)
    assert told.title == "Dead"
    assert told.sentence == "This tree is dead. Two visits found no life in it."
    assert "July 1, 2026" in told.why[0].text


def test_a_photo_that_was_turned_down_is_none(dead_tree):
    for look in dead_tree.looks.all():
        look.photos.update(shown="declined")
    decision = decision_of(dead_tree, SEPTEMBER)
    assert decision.state.name == "cannot_tell"
    assert codes(decision.state.needs) == ["photo"]


def test_a_superseded_look_does_not_count(dead_tree):
    second = dead_tree.looks.order_by("day").last()
    LookFactory(tree=dead_tree, day=second.day, leaf="partial", supersedes=second)
    assert decision_of(dead_tree, SEPTEMBER).state.name == "alive"


def test_a_bare_linden_in_january_is_asleep_and_said_kindly():
    tree = TreeFactory()
    LookFactory(tree=tree, day=JANUARY, condition="", leaf="bare")
    decision = decision_of(tree, JANUARY)
    assert decision.state.name == "asleep"
    assert plainly(decision) == (
        "It is bare, and that is normal for its kind now. We think it is asleep. "
        "We look again by June 26, 2026."
    )
    assert decision.choice.verdict == "watch"


def test_the_same_january_look_in_the_south_is_news():
    area = AreaFactory(ref="south", name="South", hemisphere="south", latitude=-36, is_home=False)
    tree = TreeFactory(planting__area=area, site__area=area)
    LookFactory(tree=tree, day=JANUARY, condition="", leaf="bare")
    decision = decision_of(tree, JANUARY)
    assert decision.state.name == "cannot_tell"
    assert codes(decision.state.needs) == ["scratch_twigs"]


def test_alive_today_is_never_saved():
    tree = TreeFactory()
    LookFactory(tree=tree, day=SEPTEMBER, condition="", leaf="bare", scratch="green")
    sentence = plainly(decision_of(tree, SEPTEMBER))
    assert sentence.startswith("Alive today. We look again by ")
    assert "saved" not in sentence


def test_alive_on_an_earlier_day_names_that_day():
    tree = TreeFactory()
    LookFactory(tree=tree, day=date(2026, 7, 16), condition="slipping", leaf="full")
    assert plainly(decision_of(tree, SEPTEMBER)) == (
        "Alive when we last looked, on July 16, 2026. We look again by September 10, 2026."
    )


def test_frost_on_record_is_waited_for(dead_tree):
    Happening.objects.create(
        site=dead_tree.site, kind="frost", from_day=date(2026, 6, 25), to_day=date(2026, 6, 25),
        entered_at=NOON,
    )  # fmt: skip
    decision = decision_of(dead_tree, date(2026, 8, 12))
    assert decision.state.name == "cannot_tell"


def test_a_palo_verde_bare_in_a_dry_spell_is_asleep():
    tree = TreeFactory(species="palo_verde")
    LookFactory(tree=tree, day=date(2026, 8, 25), condition="", leaf="bare")
    for n in range(30):
        Weather.objects.create(area=tree.area, day=SEPTEMBER - timedelta(days=n), rain_mm=0)
    decision = decision_of(tree, SEPTEMBER)
    assert codes(decision.state.lines) == ["drops_in_drought"]
    assert "because it is dry" in plainly(decision)
    Weather.objects.filter(day=SEPTEMBER).update(rain_mm=25)
    assert decision_of(tree, SEPTEMBER).state.name == "cannot_tell"


def test_neighbors_of_its_kind_that_leafed_out_late_put_it_off(dead_tree):
    peer = TreeFactory(site=dead_tree.site, planting=dead_tree.planting)
    LookFactory(tree=peer, day=date(2026, 6, 20), leaf="full")
    assert decision_of(dead_tree, SEPTEMBER).state.name == "dead"  # first looked at in leaf
    LookFactory(tree=peer, day=date(2026, 6, 5), leaf="bare", condition="")
    assert decision_of(dead_tree, SEPTEMBER).state.name == "cannot_tell"


def test_a_belief_that_says_otherwise_is_told():
    tree = TreeFactory()
    LookFactory(tree=tree, day=JANUARY, condition="", leaf="bare")
    shares = {"thriving": 0.01, "holding": 0.01, "slipping": 0.01, "failing": 0.02}
    belief(tree=tree, **shares, dead=0.9, gone=0.05, lost=0.95)
    decision = decision_of(tree, JANUARY)
    assert codes(decision.state.contradictions) == ["belief_says_dead"]


def test_top_dead_waits_for_the_graft_and_takes_the_answer():
    tree = TreeFactory()
    LookFactory(tree=tree, day=date(2026, 8, 1), presence="sprouting", condition="")
    decision = decision_of(tree, SEPTEMBER)
    assert (decision.state.name, decision.choice.verdict) == ("top_dead", "watch")
    by = PersonFactory()
    for grafted, verdict in ((True, "replace"), (False, "save")):
        note_graft(tree=tree, grafted=grafted, day=TODAY, by=by, at=NOON)
        assert decision_of(tree, SEPTEMBER).choice.verdict == verdict
    assert Entry.objects.filter(act="graft.noted").count() == 2
    with pytest.raises(PermissionDenied):
        note_graft(
            tree=tree, grafted=True, day=TODAY, at=NOON,
            by=PersonFactory(role="volunteer", trained_on=None),
        )  # fmt: skip
    with pytest.raises(ValidationError):
        note_graft(tree=tree, grafted=True, day=SEPTEMBER, by=by, at=NOON)


def test_a_cause_that_goes_on_is_known_from_the_answer_to_its_check():
    tree = TreeFactory()
    look = LookFactory(tree=tree, day=date(2026, 8, 1), leaf="full")
    LookSign.objects.create(look=look, sign="bark_wound", extent="less_than_quarter")
    assert "cause_not_known" in codes(decision_of(tree, SEPTEMBER).choice.reasons)
    ClueNoted.objects.create(
        tree=tree, clue="fresh_in_old", so=True, day=date(2026, 8, 20), by="person:a", at=NOON
    )
    reasons = codes(decision_of(tree, SEPTEMBER).choice.reasons)
    assert "stop_cause_first" in reasons
    assert "bark_under_quarter" in reasons


def test_every_code_has_its_words():
    assert set(LINES) | set(NEEDS) == set(GROUNDS)
    assert not set(LINES) & set(NEEDS)
    assert set(TITLES) == {"gone", "asleep", "cannot_tell", "alive", "top_dead", "dead"}
    assert set(VERDICTS) == {"nothing_to_do", "save", "watch", "replace"}


def test_the_number_of_queries_does_not_grow_with_looks(django_assert_num_queries):
    tree = TreeFactory()
    for n in range(12):
        look = LookFactory(tree=tree, day=date(2026, 8, 1) - timedelta(days=n))
        LookSign.objects.create(look=look, sign="bark_wound", extent="less_than_quarter")
    with django_assert_num_queries(9):
        said_of(decision_of(tree, SEPTEMBER))
