"""Causes are told one by one, in words, and the order of the clues never matters."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.science.causes.records import (
    WORDS,
    CannotWeigh,
    ClueContradicted,
    Known,
    Suspect,
    Weighing,
    Witness,
)
from survey.science.causes.weighing import SEASON, fitting, share_left, tell_causes

REPORT = Witness("lay", "report 1")
TRAINED = Witness("trained", "walker")
CHECK = Witness("check")

CUT = Suspect(
    "cut",
    "common",
    (
        Weighing("cut_low", 2, -2),
        Weighing("clippings", 2),
        Weighing("grass", 1, -1, context=True),
        Weighing("tooth_marks", -2),
    ),
    frozenset(range(3, 12)),
)
GNAWED = Suspect("gnawed", "sometimes", (Weighing("tooth_marks", 2), Weighing("cut_low", 1)))
DRY = Suspect(
    "dry",
    "common",
    (Weighing("dry_ball", 2, -2), Weighing("wilting", 1), Weighing("no_rain", 1, context=True)),
)
WET = Suspect("wet", "sometimes", (Weighing("dry_ball", -2, 1), Weighing("wilting", 1)))
SUSPECTS = (CUT, GNAWED, DRY, WET)
CLUES = ["cut_low", "clippings", "grass", "tooth_marks", "dry_ball", "wilting", "no_rain"]


def so(*clues, by=REPORT):
    return [Known(clue, True, frozenset({by})) for clue in clues]


def not_so(*clues, by=CHECK):
    return [Known(clue, False, frozenset({by})) for clue in clues]


def word_of(answer, cause):
    return answer.by_code[cause].word


def test_two_causes_at_once_are_both_named():
    answer = tell_causes(
        SUSPECTS, so("cut_low", "clippings", "dry_ball", "wilting", by=TRAINED), northern_month=6
    )
    assert word_of(answer, "cut") == "likely"
    assert word_of(answer, "dry") == "possible"
    assert {told.cause for told in answer.named} == {"cut", "dry"}


def test_a_cause_does_not_lose_to_a_stronger_one():
    alone = tell_causes(SUSPECTS, so("dry_ball", by=CHECK))
    beside = tell_causes(SUSPECTS, so("dry_ball", "cut_low", "clippings", by=CHECK))
    assert alone.by_code["dry"] == beside.by_code["dry"]


def test_one_report_never_makes_a_cause_likely_however_much_it_says():
    answer = tell_causes(SUSPECTS, so("cut_low", "clippings", "grass"), northern_month=6)
    assert (word_of(answer, "cut"), answer.by_code["cut"].cap) == ("possible", "one_report")


def test_a_photo_of_the_same_report_adds_no_second_person():
    photo = Witness("photo", "report 1")
    answer = tell_causes(SUSPECTS, [*so("cut_low"), *so("cut_low", "clippings", by=photo)])
    assert answer.by_code["cut"].cap == "one_report"


def test_two_reports_are_not_several_and_three_are():
    def told_by(people):
        known = [
            Known(clue, True, frozenset(Witness("lay", f"report {n}") for n in range(people)))
            for clue in ("cut_low", "clippings")
        ]
        return tell_causes(SUSPECTS, known).by_code["cut"]

    assert (told_by(2).word, told_by(2).cap) == ("possible", "few_reports")
    assert told_by(3).word == "likely"


def test_a_trained_look_or_an_answered_check_makes_it_likely():
    for witness in (TRAINED, CHECK):
        answer = tell_causes(SUSPECTS, so("cut_low", "clippings", by=witness))
        assert word_of(answer, "cut") == "likely"


def test_an_answered_check_on_another_cause_does_not_lift_this_one():
    known = [*so("cut_low", "clippings"), *so("dry_ball", by=CHECK)]
    assert word_of(tell_causes(SUSPECTS, known), "cut") == "possible"


def test_nothing_known_is_cannot_tell():
    answer = tell_causes(SUSPECTS, [])
    assert answer.word == "cannot_tell"
    assert {told.word for told in answer.causes} == {"cannot_tell"}
    assert answer.named == ()


def test_season_weather_and_place_alone_make_nothing_possible():
    grassy = Suspect("grassy", "common", (Weighing("grass", 3, context=True),))
    answer = tell_causes((grassy, DRY), so("grass", "no_rain", by=Witness("record")))
    assert answer.word == "cannot_tell"
    assert answer.by_code["grassy"].cap == "context_only"


def test_one_weak_sign_is_too_thin_and_two_are_not():
    weak = Suspect("weak", "common", (Weighing("wilting", 1), Weighing("pale", 1)))
    lone = Suspect("lone", "common", (Weighing("other", 1),))
    three = (weak, lone, CUT)
    one, two = (
        tell_causes(three, so(*clues)).by_code["weak"]
        for clues in (["wilting"], ["wilting", "pale"])
    )
    assert (one.word, one.cap) == ("cannot_tell", "thin")
    assert two.word == "possible"


def test_what_is_so_most_of_the_year_says_little_when_it_is_so_and_all_when_it_is_not():
    mown = Suspect("mown", "common", (Weighing("mowing_season", 2, -2, context=True, usual=0.75),))
    so_now = tell_causes((mown, DRY), so("mowing_season")).by_code["mown"]
    not_now = tell_causes((mown, DRY), not_so("mowing_season")).by_code["mown"]
    assert (so_now.points, not_now.points) == (0.5, -2)


def test_a_contradiction_pushes_down():
    with_marks = tell_causes(SUSPECTS, so("cut_low", "clippings", "tooth_marks"))
    without = tell_causes(SUSPECTS, so("cut_low", "clippings"))
    assert with_marks.by_code["cut"].points == without.by_code["cut"].points - 2
    only_marks = tell_causes(SUSPECTS, so("tooth_marks"))
    assert word_of(only_marks, "cut") == "unlikely"


def test_what_was_looked_for_and_not_found_speaks_against():
    answer = tell_causes(SUSPECTS, not_so("dry_ball"))
    assert word_of(answer, "dry") == "unlikely"
    assert answer.by_code["wet"].speaks_for[0].so is False


def test_out_of_its_season_a_cause_stands_lower_and_says_why():
    january = tell_causes(SUSPECTS, so("cut_low"), northern_month=1).by_code["cut"]
    june = tell_causes(SUSPECTS, so("cut_low"), northern_month=6).by_code["cut"]
    assert january.points == june.points - 1
    assert [line.clue for line in january.speaks_against] == [SEASON]


def test_a_clue_that_fits_every_cause_says_nothing_and_one_that_fits_one_says_all():
    assert share_left(1, 24) == 1
    assert share_left(24, 24) == 0
    assert share_left(4, 16) == pytest.approx(0.5)  # ln 4 is half of ln 16
    shares = [share_left(n, 24) for n in range(1, 25)]
    assert shares == sorted(shares, reverse=True)
    assert fitting(SUSPECTS)["wilting"] == 2


def test_the_points_of_a_cause_are_the_sum_of_its_lines():
    answer = tell_causes(SUSPECTS, so("cut_low", "grass", "tooth_marks"), northern_month=1)
    for told in answer.causes:
        lines = [*told.speaks_for, *told.speaks_against]
        assert told.points == pytest.approx(math.fsum(line.points for line in lines))


KNOWN = st.lists(
    st.tuples(st.sampled_from(CLUES), st.booleans(), st.sampled_from([REPORT, TRAINED, CHECK])),
    unique_by=lambda one: one[0],
    max_size=7,
).map(lambda ones: [Known(clue, value, frozenset({who})) for clue, value, who in ones])


@given(KNOWN, st.randoms(use_true_random=False), st.sampled_from([None, *range(1, 13)]))
def test_permuted_clues_give_the_same_answer(known, dice, month):
    shuffled, suspects = list(known), list(SUSPECTS)
    dice.shuffle(shuffled)
    dice.shuffle(suspects)
    assert tell_causes(SUSPECTS, known, northern_month=month) == tell_causes(
        suspects, shuffled, northern_month=month
    )


@given(KNOWN, st.sampled_from(SUSPECTS), st.sampled_from([REPORT, TRAINED, CHECK]))
def test_a_further_clue_for_a_cause_never_lowers_it(known, suspect, who):
    open_still = [w for w in suspect.weighings if w.clue not in {one.clue for one in known}]
    before = tell_causes(SUSPECTS, known).by_code[suspect.code]
    for weighing in open_still:
        if weighing.weight <= 0:
            continue
        further = [*known, Known(weighing.clue, True, frozenset({who}))]
        after = tell_causes(SUSPECTS, further).by_code[suspect.code]
        assert after.points >= before.points
        assert WORDS.index(after.word) >= WORDS.index(before.word)


@given(KNOWN, st.sampled_from(SUSPECTS))
def test_a_further_clue_against_a_cause_never_lifts_it(known, suspect):
    before = tell_causes(SUSPECTS, known).by_code[suspect.code]
    for weighing in suspect.weighings:
        if weighing.weight < 0 and weighing.clue not in {one.clue for one in known}:
            further = [*known, Known(weighing.clue, True, frozenset({CHECK}))]
            after = tell_causes(SUSPECTS, further).by_code[suspect.code]
            assert after.points < before.points
            assert WORDS.index(after.word) <= WORDS.index(before.word)


def test_a_clue_that_is_so_and_not_so_is_refused():
    with pytest.raises(ClueContradicted) as refused:
        tell_causes(SUSPECTS, [*so("dry_ball"), *not_so("dry_ball")])
    assert refused.value.clue == "dry_ball"


@pytest.mark.parametrize("month", [0, 13, -1, 2.5])
def test_a_month_that_is_none_is_refused(month):
    with pytest.raises(CannotWeigh, match="month"):
        tell_causes(SUSPECTS, [], northern_month=month)


@pytest.mark.parametrize(
    "make",
    [
        lambda: Weighing("x", 0, 0),
        lambda: Weighing("x", 4),
        lambda: Weighing("x", 1, -4),
        lambda: Weighing("x", 1, usual=1.0),
        lambda: Suspect("x", "common", (Weighing("a", 1), Weighing("a", 2))),
        lambda: Suspect("x", "common", (), frozenset({13})),
        lambda: Known("", True, frozenset({CHECK})),
        lambda: Known("x", True, frozenset()),
        lambda: Witness("lay"),
        lambda: share_left(0, 5),
        lambda: share_left(6, 5),
        lambda: tell_causes((CUT, CUT), []),
    ],
)
def test_what_cannot_be_weighed_is_refused(make):
    with pytest.raises(CannotWeigh):
        make()


SODDEN = Suspect(
    "sodden",
    "common",
    (
        Weighing("wet_ball", 2, beside=True),
        Weighing("limp", 1),
        Weighing("season", 1, context=True, usual=0.5),
    ),
)


def test_what_is_seen_beside_the_tree_needs_a_sign_of_the_tree():
    (alone,) = tell_causes((SODDEN,), so("wet_ball")).causes
    assert (alone.word, alone.cap) == ("cannot_tell", "context_only")
    (seen,) = tell_causes((SODDEN,), so("wet_ball", "limp")).causes
    assert seen.word == "possible"
    for by in (TRAINED, CHECK):
        (felt,) = tell_causes((SODDEN,), so("wet_ball", by=by)).causes
        assert felt.word == "possible"


def test_a_cause_that_only_the_calendar_speaks_for_has_no_support_and_stands_last():
    answer = tell_causes((SODDEN, GNAWED, CUT), so("season", "grass", "tooth_marks"))
    support = {one.cause: one.support for one in answer.causes}
    assert support == {"gnawed": 2, "cut": 1, "sodden": 0}
    assert [one.cause for one in answer.causes if one.word == "cannot_tell"][-1] == "sodden"


@given(st.sets(st.sampled_from(CLUES), max_size=5), st.sampled_from([None, 1, 6]))
def test_nothing_without_a_clue_for_it_stands_above_what_has_one(seen, month):
    causes = tell_causes(SUSPECTS, so(*sorted(seen)), northern_month=month).causes
    for word in WORDS:
        order = [one.support for one in causes if one.word == word]
        assert order == sorted(order, reverse=True)
