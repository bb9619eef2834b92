"""What trained people saw: from the hidden lives to looks, with the slips that people make."""

from bisect import bisect_right
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from survey.management.demo.lives import Grove, Life, is_bare
from survey.management.demo.pictures import Scene
from survey.management.demo.plan import Plan
from survey.management.demo.walks import SECOND_LOOK, found_dead_on, walk_days

ORDER = ["thriving", "holding", "slipping", "failing"]
EXTENTS = ["less_than_quarter", "quarter_to_half", "half_or_more", "all_round"]


@dataclass(frozen=True, slots=True)
class SeenAt:
    """A sign with how far round it goes and on which side, in the handbook's codes."""

    sign: str
    extent: str = ""
    side: str = ""


@dataclass(slots=True, eq=False)
class PhotoPlan:
    """A photo that somebody took; `shown` is hidden, accepted or declined."""

    key: str
    scene: Scene
    facing: str
    taken_on: date
    received_at: datetime
    by: str
    shown: str = "accepted"


@dataclass(slots=True, eq=False)
class LookPlan:
    """One look; `observer` is a sign-in, or a neighbor's number as "neighbor:7"."""

    life: Life
    observer: str
    day: date
    channel: str
    trained: bool
    presence: str
    at: datetime
    condition: str = ""
    leaf: str = ""
    scratch: str = ""
    signs: tuple[SeenAt, ...] = ()
    girths: tuple[float, ...] = ()
    note: str = ""
    photos: list[PhotoPlan] = field(default_factory=list)
    acceptance: dict | None = None
    repeat_key: str | None = None


def extent_of(share: float) -> str:
    """The handbook's word for how far round the bark is gone."""
    return EXTENTS[bisect_right([0.25, 0.5, 0.97], share)]


class Eye:
    """Sees a tree as a person would, with dice for slips."""

    def __init__(self, plan: Plan, dry: dict[tuple[int, int], float], stream: int) -> None:
        self.plan = plan
        self.dice = np.random.default_rng([plan.seed, stream])
        self.zone = ZoneInfo(plan.area["time_zone"])
        self._dry = dry
        self._photos = 0

    def moment(self, day: date, hours: tuple[float, float] = (9.0, 17.5)) -> datetime:
        """A time of that day, in the town's own zone."""
        minutes = int(self.dice.uniform(*hours) * 60)
        return datetime.combine(day, time(minutes // 60, minutes % 60), self.zone)

    def chance(self, share: float) -> bool:
        return bool(self.dice.random() < share)

    def dryness(self, day: date) -> float:
        return self._dry.get((day.year, day.month), 0.0)

    def condition(self, life: Life, day: date) -> str:
        """The word a trained person picks: mostly the true one, sometimes the next."""
        true = life.condition_on(day)
        bare = is_bare(life.species, day.month, self.plan.south)
        if true == "dead":
            return "failing" if bare and self.chance(0.3) else "dead"
        place = ORDER.index(true)
        if self.chance(0.34 if bare else 0.16):
            place = min(3, max(0, place + (1 if self.chance(0.5) else -1)))
        return ORDER[place]

    def signs(self, life: Life, day: date) -> tuple[SeenAt, ...]:
        """What there is to see, each once; now and then something is overlooked."""
        seen: list[SeenAt] = []
        wound, vigor = life.wound_on(day), life.vigor_on(day)
        leafy = not is_bare(life.species, day.month, self.plan.south)
        if wound >= 0.04 and not self.chance(0.08):
            seen.append(SeenAt("bark_wound", extent_of(wound), life.wound_side(day)))
        if wound >= 0.12 and leafy and self.chance(0.45):
            seen.append(SeenAt("base_shoots"))
        if life.tied(day) and life.tight and life.age_months(day) > 14:
            seen.append(SeenAt("tie_cuts_in"))
        elif life.tied(day) and self.chance(0.04):
            seen.append(SeenAt("stake_rubs"))
        if life.heaped and life.age_months(day) < 20 and self.chance(0.8):
            seen.append(SeenAt("heaped_soil"))
        if life.buried and self.chance(0.5):
            seen.append(SeenAt("buried_flare"))
        if not life.alive(day):
            if self.chance(0.5):
                seen.append(SeenAt("dieback"))
            return tuple(seen)
        if leafy:
            thirsty = self.dryness(day) > 0.55 and life.age_months(day) < 36
            if thirsty and vigor < 0.75:
                seen.append(SeenAt("crisp_edges"))
            if thirsty and vigor < 0.5 and self.chance(0.6):
                seen.append(SeenAt("wilting"))
            if thirsty and self.chance(0.3):
                seen.append(SeenAt("dry_soil"))
            if (life.frosted and 0 <= (day - life.frosted).days < 60) or vigor < 0.45:
                seen.append(SeenAt("dieback"))
            if vigor < 0.55 and self.chance(0.25):
                seen.append(SeenAt("discoloured_leaves"))
            if self.chance(0.03):
                seen.append(SeenAt("spotted_leaves"))
        return tuple(seen)

    def scene(self, life: Life, day: date, part: str, **more) -> Scene:
        """How the tree looked on that day, for the painter."""
        month = (day.month + 5) % 12 + 1 if self.plan.south else day.month
        season = "spring" if month in (3, 4, 5) else "winter" if month in (11, 12, 1, 2) else "dry"
        if season == "dry" and self.dryness(day) < 0.75:
            season = "summer"
        vigor, alive = life.vigor_on(day), life.alive(day)
        leaf = life.leaf_on(day, self.plan.south)
        if life.frosted and 0 <= (day - life.frosted).days < 25:
            leaf = "partial"
        self._photos += 1
        return Scene(
            seed=int(self.dice.integers(1, 2**31)),
            part=part,
            species=life.species,
            place=self.plan.sites[life.site].place,
            season=season,
            leaf=leaf,
            crown=round(min(1.0, max(0.12, vigor * 1.12)), 2),
            crisp=round(max(0.0, (0.7 - vigor) * 0.9), 2) if season == "dry" else 0.0,
            wound=round(life.wound_on(day), 2),
            mulch=life.line.ground == "bed" or self.chance(0.12),
            stake=life.tied(day),
            tie_tight=part == "base" and life.tied(day) and life.tight and not life.wound_on(day),
            shoots=alive and life.wound_on(day) > 0.3 and self.chance(0.4),
            coin=part == "base" and self.chance(0.5),
            flowering=life.species == "crape_myrtle" and month in (7, 8) and vigor > 0.5,
            autumn=month == 10,
            **more,
        )

    def photo(self, scene: Scene, at: datetime, by: str, shown: str = "accepted") -> PhotoPlan:
        return PhotoPlan(
            key="".join(f"{byte:02x}" for byte in self.dice.bytes(12)),
            scene=scene,
            facing="street" if self.chance(0.6) else "path",
            taken_on=at.date(),
            received_at=at,
            by=by,
            shown=shown,
        )


class Surveyors:
    """Registers, accepts and walks: every look by somebody trained, and a few by somebody keen."""

    def __init__(self, grove: Grove, eye: Eye) -> None:
        self.plan, self.lives, self.eye = grove.plan, grove.lives, eye
        self.looks: list[LookPlan] = []
        self._walkers = [person for person in self.plan.people if person["role"] == "volunteer"]
        self._crew = next(p["sign_in"] for p in self.plan.people if p["role"] == "crew")

    def go(self) -> list[LookPlan]:
        walked = {
            site: [(day, self.walker(day)) for day in walk_days(self.plan, site)]
            for site in self.plan.sites
        }
        for life in self.lives:
            self._enters(life)
            self._walks(life, walked[life.site])
            self._leaves(life)
        self._keen_neighbor()
        self.looks.sort(key=lambda look: (look.at, look.life.number))
        return self.looks

    def look(self, life: Life, day: date, channel: str, observer: str, at: datetime) -> LookPlan:
        """A whole look at what stands there."""
        eye = self.eye
        condition = eye.condition(life, day)
        leaf = life.leaf_on(day, self.plan.south)
        scratch = ""
        if leaf == "bare" and eye.chance(0.9 if channel == "followup" else 0.45):
            scratch = "green" if life.alive(day) else "brown"
        elif leaf == "bare" and life.alive(day) and channel == "walk" and eye.chance(0.012):
            condition = "dead"  # a bare tree taken for a dead one: the next look corrects it
        return LookPlan(
            life=life,
            observer=observer,
            day=day,
            channel=channel,
            trained=True,
            presence="standing",
            at=at,
            condition=condition,
            leaf=leaf,
            scratch=scratch,
            signs=eye.signs(life, day),
            girths=self._girths(life, day, channel),
        )

    def _girths(self, life: Life, day: date, channel: str) -> tuple[float, ...]:
        yearly = channel == "walk" and day.month in ((1, 2) if self.plan.south else (7,))
        if not yearly and channel not in {"registration", "acceptance"}:
            return ()
        whole = life.girth_m(day)
        if life.stems == 1:
            return (whole,)
        return tuple(round(whole * (0.72 - 0.09 * stem), 3) for stem in range(life.stems))

    def walker(self, day: date) -> str:
        """Somebody trained by that day."""
        trained = [p for p in self._walkers if p.get("trained_on") and p["trained_on"] <= day]
        if not trained:
            return next(p["sign_in"] for p in self.plan.people if p["role"] == "staff")
        return trained[int(self.eye.dice.integers(0, len(trained)))]["sign_in"]

    def _enters(self, life: Life) -> None:
        day = life.registered_on
        at = self.eye.moment(day)
        observer = self.walker(day)
        if life.because == "planting_record":
            look = self.look(life, day, "acceptance", observer, at)
            look.acceptance = self._accept(life)
            if not look.acceptance["accepted"] or self.eye.chance(0.06):
                look.photos.append(self.eye.photo(self.eye.scene(life, day, "base"), at, observer))
        else:
            look = self.look(life, day, "registration", observer, at)
            if self.eye.chance(0.08):
                for part in ("whole", "base"):
                    scene = self.eye.scene(life, day, part)
                    look.photos.append(self.eye.photo(scene, at, observer))
        if not life.alive(day):
            look.condition = "dead"
        self.looks.append(look)

    def _accept(self, life: Life) -> dict:
        """The base on four sides, the root flare, the ties, and yes or no."""
        wound = life.nursery_wound
        sides = ["street", "path", "left", "right"]
        marked = set()
        if wound:
            count = 1 if wound < 0.25 else 2 if wound < 0.45 else 3
            marked = set(self.eye.dice.choice(sides, size=count, replace=False).tolist())
        refused = wound > 0.5
        return {
            **{f"base_{side}": "marked" if side in marked else "whole" for side in sides},
            "flare": "buried" if life.buried else "visible",
            "ties": "none" if not life.planting.ties else "loose",
            "accepted": not refused,
            "reason": (
                "Bark gone half way round or more when it came: another tree is asked for."
                if refused
                else "Marks from the nursery: photographed, and the nursery was told."
                if wound
                else ""
            ),
        }

    def _walks(self, life: Life, walked: list[tuple[date, str]]) -> None:
        eye = self.eye
        unseen = 0
        second = self._second_look(life)
        for day, walker in walked:
            if (day - life.registered_on).days < 20:
                continue
            at = eye.moment(day)
            if life.fenced_on and day > life.fenced_on:
                unseen += 1
                if unseen <= 2:
                    self.looks.append(
                        LookPlan(
                            life,
                            walker,
                            day,
                            "walk",
                            True,
                            "not_seen",
                            at,
                            note="Behind the new fence; nobody could let us in.",
                        )
                    )
                continue
            if not life.stands(day):
                if life.removed_on and not life.removal_logged:
                    self.looks.append(
                        LookPlan(
                            life,
                            walker,
                            day,
                            "walk",
                            True,
                            "gone",
                            at,
                            note="The place is empty. Nobody knows who took it.",
                        )
                    )
                break
            if life.alive(day) and eye.chance(0.035):
                self.looks.append(
                    LookPlan(
                        life,
                        walker,
                        day,
                        "walk",
                        True,
                        "not_seen",
                        at,
                        note="A van stood in front of it.",
                    )
                )
                continue
            look = self.look(life, day, "walk", walker, at)
            yearly = day.month in ((1, 2) if self.plan.south else (7,))
            if eye.chance(0.035 if yearly else 0.012):
                look.photos.append(eye.photo(eye.scene(life, day, "whole"), at, walker))
                if life.wound_on(day) or eye.chance(0.3):
                    look.photos.append(eye.photo(eye.scene(life, day, "base"), at, walker))
            self.looks.append(look)
        if second and life.stands(second) and second < self.plan.today:
            walker = self.walker(second)
            look = self.look(life, second, "followup", walker, eye.moment(second))
            look.condition, look.note = "dead", "Second look: no green on any twig."
            if eye.chance(0.35):
                scene = eye.scene(life, second, "close", scratch="brown")
                look.photos.append(eye.photo(scene, look.at, walker))
            self.looks.append(look)

    def _second_look(self, life: Life) -> date | None:
        if not life.died_on:
            return None
        found = found_dead_on(self.plan, life.site, max(life.died_on, life.registered_on))
        return found and found + SECOND_LOOK

    def _leaves(self, life: Life) -> None:
        """A crew writes down what it took."""
        taken = life.taken_on or (life.removed_on if life.removal_logged else None)
        if not taken or taken < life.registered_on:
            return
        note = {
            "removed_other": "Stood in the way of the cable; taken out alive.",
            "removed_health": "Taken down for safety after the storm.",
        }.get(life.taken_how, "Dead tree taken out, stump and all.")
        self.looks.append(
            LookPlan(
                life, self._crew, taken, "crew", True, "gone", self.eye.moment(taken), note=note
            )
        )

    def _keen_neighbor(self) -> None:
        """Somebody not trained yet looks after a few trees and writes down what they see."""
        keen = next((p["sign_in"] for p in self._walkers if not p.get("trained_on")), None)
        if keen is None:
            return
        mine = [life for life in self.lives if life.line.ref == "upper"][4:8]
        day = date(2025, 3, 9)
        while day < self.plan.today:
            for life in mine:
                if life.stands(day) and self.eye.chance(0.8):
                    look = self.look(life, day, "adopter", keen, self.eye.moment(day))
                    look.trained = False
                    self.looks.append(look)
            day += timedelta(days=35)
