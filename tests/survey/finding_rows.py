"""A small town in rows: sites and plantings with trees, each looked at once by somebody trained."""

from datetime import date

from survey.causes import kept_findings, patterns
from survey.causes.models import Finding
from survey.trees.models import LookSign
from tests import factories as make

WALKED = date(2026, 5, 20)


class Town:
    """`plant(site, planting, trees, signed)` adds trees of which the first `signed` show `sign`."""

    def __init__(self, sign: str = "bark_wound") -> None:
        self.area = make.AreaFactory()
        self.sign = sign
        self.sites: dict[str, object] = {}
        self.plantings: dict[str, object] = {}
        self.eyes = [make.ObserverFactory(), make.ObserverFactory()]

    def site(self, ref: str, **more):
        if ref not in self.sites:
            name = ref.replace("-", " ").title()
            self.sites[ref] = make.SiteFactory(area=self.area, ref=ref, name=name, **more)
        return self.sites[ref]

    def planting(self, ref: str, **more):
        if ref not in self.plantings:
            self.plantings[ref] = make.PlantingFactory(
                area=self.area, ref=ref, name=ref.replace("-", " ").title(), **more
            )
        return self.plantings[ref]

    def plant(self, site, planting, trees, signed, *, supplier="North Quay Nursery", **more):
        rows = []
        for n in range(trees):
            tree = make.TreeFactory(
                site=self.site(site), planting=self.planting(planting, supplier=supplier), **more
            )
            self.look(tree, signed=n < signed, eyes=n % 2)
            rows.append(tree)
        return rows

    def look(self, tree, *, day=WALKED, signed=True, side="", eyes=0, **more):
        look = make.LookFactory(tree=tree, day=day, observer=self.eyes[eyes], **more)
        if signed:
            LookSign.objects.create(look=look, sign=self.sign, side=side)
        return look

    def search(self) -> list[Finding]:
        """What a run finds, as rows by number."""
        kept_findings.keep(patterns.work_out(str(self.area.pk)))
        return list(Finding.objects.filter(area=self.area).standing().order_by("number"))


def quarry_green(**more) -> Town:
    """13 of 14 trees at Quarry Green have the sign; elsewhere 3 of 40 of the same two loads."""
    town = Town(**more)
    town.plant("quarry-green", "maples", 8, 8, species="field_maple")
    town.plant("quarry-green", "lindens", 6, 5)
    town.plant("mill-steps", "maples", 20, 2, species="field_maple")
    town.plant("mill-steps", "lindens", 20, 1)
    return town


def trees_of(finding: Finding) -> set[int]:
    return set(finding.trees.values_list("pk", flat=True))
