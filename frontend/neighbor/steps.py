"""The questions of a report in their order, which are answered, and where each page lives."""

from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from survey.handbook.book import book
from survey.handbook.wording import said
from survey.reports.answers import asks_extent, asks_side
from survey.reports.models import Draft
from survey.trees.models import Site, Tree
from survey.trees.species import kind_of, kinds_in


@dataclass(frozen=True, slots=True)
class Step:
    """One page of the report. `node` is its place on the twig of progress."""

    name: str
    node: int
    title: str


DANGER = Step("danger", 1, gettext_lazy("Is anybody in danger?"))
WHERE = Step("where", 2, gettext_lazy("Where is the tree?"))
SIGNS = Step("signs", 3, gettext_lazy("What do you see?"))
OVERALL = Step("overall", 4, gettext_lazy("How does it look, all in all?"))
EXTENT = Step("extent", 4, gettext_lazy("How far round does it go?"))
PHOTOS = Step("photos", 5, gettext_lazy("Three photos help most"))
WORDS = Step("words", 6, gettext_lazy("Anything to add?"))
CHECK = Step("check", 7, gettext_lazy("Is this right?"))
NODES = 6

DANGER_WORDS = Step("words", 3, WORDS.title)
DANGER_CHECK = Step("check", 4, CHECK.title)
DANGER_NODES = 3


def is_danger(draft: Draft) -> bool:
    return bool(draft.answers.get("danger"))


def steps_of(draft: Draft) -> list[Step]:
    """The questions this report asks. A danger asks only where it is, and for words."""
    if is_danger(draft):
        return [DANGER, WHERE, DANGER_WORDS]
    steps = [DANGER, WHERE, SIGNS, OVERALL]
    signs = draft.answers.get("signs", ())
    if asks_extent(signs) or asks_side(signs):
        steps.append(EXTENT)
    return [*steps, PHOTOS, WORDS]


def is_answered(draft: Draft, step: Step) -> bool:
    said_so = draft.answers
    match step.name:
        case "danger":
            return bool(said_so.get("danger") or said_so.get("safe"))
        case "where":
            return bool(said_so.get("tree") or said_so.get("landmark", "").strip())
        case "signs":
            return "signs" in said_so
        case "overall":
            return bool(said_so.get("picture"))
        case "extent":
            signs = said_so.get("signs", ())
            return (not asks_extent(signs) or bool(said_so.get("extent"))) and (
                not asks_side(signs) or bool(said_so.get("side"))
            )
        case "photos":
            return bool(said_so.get("photos"))
        case "words":
            return bool(said_so.get("seen_on"))
    return False


def first_unanswered(draft: Draft) -> Step | None:
    return next((step for step in steps_of(draft) if not is_answered(draft, step)), None)


def may_open(draft: Draft, name: str) -> bool:
    """Whether every question before this page is answered."""
    for step in steps_of(draft):
        if step.name == name:
            return True
        if not is_answered(draft, step):
            return False
    return name == "check"


def url_of(key: str, draft: Draft, step: Step) -> str:
    if step.name == "where" and draft.answers.get("site") and not is_answered(draft, step):
        return reverse("frontend:report-trees", args=[key, draft.answers["site"]])
    return reverse(f"frontend:report-{step.name}", args=[key])


def next_url(key: str, draft: Draft) -> str:
    """The first question that is not answered yet; the check page when all are."""
    step = first_unanswered(draft)
    return url_of(key, draft, step) if step else reverse("frontend:report-check", args=[key])


def back_url(key: str, draft: Draft, name: str) -> str:
    """The page before this one."""
    before = None
    for step in [*steps_of(draft), DANGER_CHECK if is_danger(draft) else CHECK]:
        if step.name == name:
            break
        before = step
    if before is None:
        return reverse("frontend:start")
    return reverse(f"frontend:report-{before.name}", args=[key])


def tree_of(draft: Draft) -> Tree | None:
    ref = draft.answers.get("tree")
    if not ref:
        return None
    return Tree.objects.select_related("site", "area").filter(area=draft.area, ref=ref).first()


def site_of(draft: Draft) -> Site | None:
    ref = draft.answers.get("site")
    return Site.objects.filter(area=draft.area, ref=ref).first() if ref else None


def name_of_tree(tree: Tree) -> str:
    """ "Linden, by the bus shelter" """
    return names_of_trees([tree])[tree.pk]


def place_of(draft: Draft, tree: Tree | None, site: Site | None) -> str:
    """Where the report is about, for the line beside the twig: "Linden, Ferry Road, tag 214"."""
    if tree is not None:
        return place_of_tree(tree)
    landmark = draft.answers.get("landmark", "")[:60]
    return ", ".join(part for part in (landmark, site.name if site else "") if part)


def signs_said(codes) -> list[str]:
    known = book().signs
    return [str(said(known[code].label)) for code in codes if code in known]


def place_of_tree(tree: Tree) -> str:
    kind = str(said(kind_of(tree.area, tree.species).name))
    tag = _("tag %s") % tree.tag if tree.tag else ""
    return ", ".join(part for part in (kind, tree.site.name, tag) if part)


def names_of_trees(trees: list[Tree]) -> dict[int, str]:
    """What each of one town's trees is called, asking for its species once."""
    if not trees:
        return {}
    kinds = kinds_in(trees[0].area)
    found = {}
    for tree in trees:
        kind = str(said(kinds[tree.species].name)) if tree.species in kinds else tree.species
        found[tree.pk] = (
            _("%(kind)s, %(landmark)s") % {"kind": kind, "landmark": tree.landmark}
            if tree.landmark
            else kind
        )
    return found
