"""Evidence in the form that the arithmetic wants: places in one long line of tree-months."""

from dataclasses import dataclass

import numpy as np

from survey.science.condition.laws import Law
from survey.science.condition.records import Evidence
from survey.science.condition.tables import codes_of
from survey.science.records import Truths, Whole

CELLS = 12
"""Kinds of months: age class times season times care, `(age * 2 + season) * 2 + care`."""


@dataclass(frozen=True, eq=False)
class Prepared:
    """All trees' months laid end to end; `offsets` says where each tree's begin.

    Looks, care and logged removals are places in that line, in rising order, with care and
    removals outside a tree's months left out. `looks_from` says where each tree's looks begin, one
    more for the end.
    """

    offsets: Whole
    first: Whole
    age: Whole
    site: Whole
    cohort: Whole
    later: Truths
    look_at: Whole
    look_code: Whole
    look_observer: Whole
    look_complaint: Truths
    look_sure: Truths
    looks_from: Whole
    care_at: Whole
    logged_at: Whole
    south: bool

    @property
    def trees(self) -> int:
        return len(self.first)


def prepare(evidence: Evidence) -> Prepared:
    trees, looks = evidence.trees, evidence.looks
    offsets = evidence.offsets
    small = np.int32 if offsets[-1] < 2**31 - 1 else np.int64
    begins = offsets[:-1] - trees.first
    return Prepared(
        offsets=offsets,
        first=trees.first.astype(np.int64, copy=False),
        age=trees.first.astype(np.int64, copy=False) - trees.planted,
        site=trees.site.astype(np.int64, copy=False),
        cohort=trees.cohort.astype(np.int64, copy=False),
        later=~trees.is_from_planting,
        look_at=(begins[looks.tree] + looks.month).astype(small),
        look_code=codes_of(looks, evidence.observers).astype(np.int16),
        look_observer=looks.observer.astype(np.int32, copy=False),
        look_complaint=looks.complaint,
        look_sure=looks.sure,
        looks_from=np.searchsorted(looks.tree, np.arange(trees.number + 1)),
        care_at=_places(evidence, evidence.care).astype(small),
        logged_at=_places(evidence, evidence.removals).astype(small),
        south=evidence.south,
    )


def _places(evidence: Evidence, pairs: Whole) -> Whole:
    """Where pairs of tree and month lie in the line, each once."""
    trees = evidence.trees
    tree, month = pairs[:, 0], pairs[:, 1]
    inside = (month >= trees.first[tree]) & (month <= trees.last[tree])
    at = evidence.offsets[tree] + month - trees.first[tree]
    return np.unique(at[inside])


def part(prepared: Prepared, begin: int, end: int) -> Prepared:
    """The trees from `begin` up to but not including `end`, numbered from 0."""
    low, high = prepared.offsets[begin], prepared.offsets[end]
    looks = slice(int(prepared.looks_from[begin]), int(prepared.looks_from[end]))

    def within(places: Whole) -> Whole:
        ends = np.array([low, high], dtype=places.dtype)  # of one type, or all places are copied
        return np.asarray(places[slice(*np.searchsorted(places, ends).tolist())] - low)

    trees = slice(begin, end)
    return Prepared(
        offsets=prepared.offsets[begin : end + 1] - low,
        first=prepared.first[trees],
        age=prepared.age[trees],
        site=prepared.site[trees],
        cohort=prepared.cohort[trees],
        later=prepared.later[trees],
        look_at=prepared.look_at[looks] - low,
        look_code=prepared.look_code[looks],
        look_observer=prepared.look_observer[looks],
        look_complaint=prepared.look_complaint[looks],
        look_sure=prepared.look_sure[looks],
        looks_from=prepared.looks_from[begin : end + 1] - prepared.looks_from[begin],
        care_at=within(prepared.care_at),
        logged_at=within(prepared.logged_at),
        south=prepared.south,
    )


def age_class(age: Whole, law: Law) -> Whole:
    """0, 1 or 2: up to the first end, up to the second, beyond."""
    return np.asarray(np.searchsorted(np.array(law.age_ends), age, side="left"), dtype=np.int64)


__all__ = ["CELLS", "Prepared", "age_class", "part", "prepare"]
