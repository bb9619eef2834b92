"""The actuarial table against its textbook example."""

import pytest

from survey.science.life_table import BadLifeTable, life_table
from tests.science.published import rows


def angina():
    table = rows("angina_life_table.csv")
    return life_table(
        2418, [int(row["deaths"]) for row in table], [int(row["withdrawn"]) for row in table]
    )


# Lee 1992, p. 91: survival at the start of years 1 to 15; eight places by R KMsurv 0.1-5, the first
# four agree with the printed table as remembered
ANGINA = [
    0.81141439, 0.71701045, 0.65236894, 0.57856471, 0.51925854, 0.46112390, 0.41720734, 0.37119640,
    0.33422176, 0.29868425, 0.25565771, 0.21356395, 0.18387938, 0.16357368, 0.14291175,
]  # fmt: skip


def test_agrees_with_the_angina_table():
    table = angina()
    assert [row.survival for row in table[:15]] == pytest.approx(ANGINA, abs=5e-9)
    for year, error in ((1, 0.00795513), (5, 0.01030422), (10, 0.01089074), (15, 0.01330026)):
        assert table[year - 1].std_error == pytest.approx(error, abs=5e-9)
    assert table[0].entering == 2418
    assert table[1].exposed == 1962 - 39 / 2


def test_the_table_ends_when_nobody_is_left():
    table = life_table(10, [4, 6, 0, 0], [0, 0, 0, 0])
    assert [row.survival for row in table] == pytest.approx([0.6, 0])
    assert table[-1].std_error == 0


def test_nobody_at_all_is_an_empty_table():
    assert life_table(0, [0, 0], [0, 0]) == []


@pytest.mark.parametrize(
    ("entering", "deaths", "withdrawn"),
    [(5, [6], [0]), (5, [3], [3]), (5, [-1], [0]), (-5, [0], [0]), (5, [1, 1], [0]), (0, [1], [0])],
)
def test_impossible_counts_are_refused(entering, deaths, withdrawn):
    with pytest.raises(BadLifeTable):
        life_table(entering, deaths, withdrawn)
