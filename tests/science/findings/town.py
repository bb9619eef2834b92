"""An invented town for findings: plantings spread over sites, and who shows a sign."""

import numpy as np

from survey.science.findings.records import Seen


def town(has, site, planting, *, supplier=None, species=None, rounds=None, whole=None) -> Seen:
    """Columns as they come; a supplier of its own for each planting unless given."""
    columns = [np.asarray(column, dtype=np.int64) for column in (site, planting)]
    none = np.zeros(len(columns[0]), dtype=np.int64)
    more = [
        none if column is None else np.asarray(column, dtype=np.int64)
        for column in (columns[1] if supplier is None else supplier, species, rounds)
    ]
    nowhere = np.zeros(len(none), dtype=bool)
    came = nowhere if whole is None else np.asarray(whole, dtype=bool)
    return Seen(np.asarray(has, dtype=bool), *columns, *more, came, nowhere)


def spread(*, seed: int, sites: int = 8, plantings: int = 6, each: int = 5):
    """Site and planting of trees: every planting has `each` trees at every site."""
    pairs = [(s, p) for s in range(sites) for p in range(plantings) for _tree in range(each)]
    site, planting = np.array(pairs).T
    return site, planting, np.random.default_rng(seed)
