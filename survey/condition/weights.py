"""What is usual among observers of one kind, so that a weight can be told in words."""

from statistics import median

from survey.condition.models import Weight
from survey.trees.models import Area

# Own rules of this project: a weight on fewer looks says nothing, and fewer others are no crowd.
FEWEST_LOOKS = 5
FEWEST_OTHERS = 5


def usual_weights(area: Area) -> dict[str, float]:
    """By kind, the middle weight of its observers in an area with looks enough to say.

    A kind with fewer than FEWEST_OTHERS of them is missing: there what is usual is what the kind
    begins with, which stands on each weight.
    """
    found: dict[str, list[float]] = {}
    heard = Weight.objects.filter(area=area, looks__gte=FEWEST_LOOKS)
    for kind, weight in heard.values_list("kind", "weight").order_by("kind", "pk"):
        found.setdefault(kind, []).append(weight)
    return {kind: median(each) for kind, each in found.items() if len(each) >= FEWEST_OTHERS}
