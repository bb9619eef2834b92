"""Every kind of file that can be brought in, and every table that can be taken away."""

from survey.exports import intake_looks, intake_places
from survey.exports.columns import Table
from survey.exports.intake import Kind
from survey.exports.outlooks import OUTLOOKS
from survey.exports.survival import SURVIVAL
from survey.exports.trees import TREES
from survey.exports.trends import TRENDS

IMPORTS: dict[str, Kind] = {
    kind.table.name: kind for kind in (*intake_places.KINDS, *intake_looks.KINDS)
}
EXPORTS: dict[str, Table] = {table.name: table for table in (SURVIVAL, TREES, TRENDS, OUTLOOKS)}
