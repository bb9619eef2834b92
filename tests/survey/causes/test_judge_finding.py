"""Staff confirm, watch or dismiss a finding, and the second of two is told."""

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from survey.audit.models import Entry
from survey.audit.outdated import Outdated
from survey.causes.actions.judge_finding import judge_finding
from tests import factories as make
from tests.factories import NOON
from tests.survey.cause_rows import finding

pytestmark = pytest.mark.django_db


def judge(row, **more):
    said = {"version": row.version, "word": "confirmed", "reason": "Seen on 4 June."}
    by = more.pop("by", None) or make.PersonFactory()
    return judge_finding(**{"finding": row, "by": by, "at": NOON} | said | more)


@pytest.mark.parametrize("word", ["confirmed", "watched", "dismissed"])
def test_a_word_is_kept_with_its_reason_its_author_and_what_it_rested_on(word):
    row = finding(facts={"standing": "alone"})
    trees = [make.TreeFactory(), make.TreeFactory()]
    row.trees.set(trees)
    desk = make.PersonFactory()
    judged = judge(row, word=word, reason="  Seen on 4 June.  ", by=desk)
    judged.refresh_from_db()
    assert (judged.state, judged.reason) == (word, "Seen on 4 June.")
    assert (judged.judged_by, judged.judged_at) == (f"person:{desk.key}", NOON)
    assert judged.judged_on == judged.evidence
    assert judged.facts["judged"] == {"trees": sorted(t.pk for t in trees), "standing": "alone"}
    assert judged.version == 1
    line = Entry.objects.get(act=f"finding.{word}")
    assert line.subject == "finding:pellworth:1"
    assert line.detail["reason"] == "Seen on 4 June."


def test_the_second_of_two_people_is_told_and_nothing_is_overwritten():
    row = finding()
    judge(row)
    with pytest.raises(Outdated) as told:
        judge(row, word="dismissed", reason="No.")
    assert told.value.current.state == "confirmed"
    row.refresh_from_db()
    assert row.state == "confirmed"


def test_a_word_may_be_changed_by_whoever_has_seen_it():
    row = judge(finding())
    assert judge(row, word="dismissed", reason="It was hail.").state == "dismissed"


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"reason": "   "}, "reason"),
        ({"reason": "x" * 501}, "reason"),
        ({"word": "open"}, "word"),
        ({"word": "guilty"}, "word"),
    ],
)
def test_no_word_without_a_reason_and_no_other_word(more, field):
    row = finding()
    with pytest.raises(ValidationError) as refused:
        judge(row, **more)
    assert field in refused.value.message_dict
    row.refresh_from_db()
    assert (row.state, row.version) == ("open", 0)


@pytest.mark.parametrize("role", ["volunteer", "crew"])
def test_only_staff_judge(role):
    with pytest.raises(PermissionDenied):
        judge(finding(), by=make.PersonFactory(role=role))
