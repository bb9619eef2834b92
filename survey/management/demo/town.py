"""One demo town, whole: the plan and what the dice made of it. No database, the same every time."""

import hashlib
from dataclasses import dataclass, fields, is_dataclass
from datetime import date

from survey.management.demo.desk import Desk
from survey.management.demo.learners import WalkPlan, learner_walks
from survey.management.demo.lives import Grove, Life
from survey.management.demo.looks import Eye, LookPlan, Surveyors
from survey.management.demo.neighbors import Neighbors, ReportPlan
from survey.management.demo.orders import OrderBook, OrderPlan
from survey.management.demo.plan import Plan, read_plan, read_words
from survey.management.demo.weather import Day, dryness_by_month, make_weather

TOWNS = ("pellworth", "southmere")
WEATHER_SINCE_YEAR = 2021


@dataclass(frozen=True, slots=True)
class Town:
    """Everything that goes into the database, in the order in which it came to pass."""

    plan: Plan
    days: list[Day]
    lives: list[Life]
    looks: list[LookPlan]
    reports: list[ReportPlan]
    orders: list[OrderPlan]
    walks: list[WalkPlan]

    def digest(self) -> str:
        """A fingerprint of the whole: equal for two towns that are equal in everything."""
        told = hashlib.sha256()
        for part in (
            self.days,
            self.lives,
            self.looks,
            self.reports,
            self.orders,
            self.walks,
        ):
            for thing in part:
                told.update(_spelled(thing).encode())
        return told.hexdigest()


def build_town(name: str) -> Town:
    """Let a town live up to its today. Same plan, same town."""
    plan, words = read_plan(name), read_words()
    days = make_weather(plan, date(WEATHER_SINCE_YEAR, 1, 1))
    dry = dryness_by_month(days)
    grove = Grove(plan, days)
    grove.grow()
    surveyors = Surveyors(grove, Eye(plan, dry, 3))
    surveyors.go()
    reports = Neighbors(grove, Eye(plan, dry, 4), words["neighbors"]).write()
    book = OrderBook(plan, Eye(plan, dry, 5), surveyors, words["desk"])
    Desk(plan, Eye(plan, dry, 6), surveyors, book, words).work(reports)
    walks, beside = learner_walks(plan, surveyors.looks, Eye(plan, dry, 7))
    looks = [*surveyors.looks, *beside, *(report.look for report in reports if report.look)]
    looks.sort(key=lambda look: (look.at, look.life.number, look.channel))
    return Town(plan, days, grove.lives, looks, reports, book.orders, walks)


def _spelled(thing: object, depth: int = 0) -> str:
    """A record in full, with the records in it; others' trees, looks and reports by their name."""
    if isinstance(thing, Life) and depth:
        return thing.tag
    if isinstance(thing, ReportPlan) and depth:
        return str(thing.client_ref)
    if isinstance(thing, LookPlan) and depth:
        return f"{thing.life.tag} {thing.at}"
    if is_dataclass(thing):
        inside = (_spelled(getattr(thing, field.name), depth + 1) for field in fields(thing))
        return f"{type(thing).__name__}({'; '.join(inside)})"
    if isinstance(thing, list | tuple):
        return "[" + ", ".join(_spelled(one, depth + 1) for one in thing) + "]"
    return repr(thing)
