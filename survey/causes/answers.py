"""What an answer to a check makes known, told in one place for whoever writes it down, or supposes
that somebody did."""

from survey.handbook.book import book
from survey.trees.models import Tree


def said_by_answer(check: str, *, yes: bool) -> list[tuple[str, bool]]:
    """Each clue that an answer settles, and whether it is so. Raises KeyError for a check that the
    handbook does not have."""
    asked = book().checks[check]
    so, not_so = (asked.yes_means, asked.yes_denies) if yes else (asked.no_means, asked.no_denies)
    return [*((clue, True) for clue in so), *((clue, False) for clue in not_so)]


def noted_by_answer(tree: Tree, check: str, *, yes: bool) -> list[dict]:
    """The fields of each note that an answer makes: `tree` or `site` (what holds for the whole site
    is kept for the site), `clue` and `so`. Raises KeyError like `said_by_answer`."""
    out = []
    for clue, so in said_by_answer(check, yes=yes):
        of_site = book().clues[clue].kept_for == "site"
        place = {"tree": None, "site": tree.site} if of_site else {"tree": tree, "site": None}
        out.append({**place, "clue": clue, "so": so})
    return out
