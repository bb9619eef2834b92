"""A daily weather for an invented climate: monthly means, dice, and the spells of the plan."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from survey.management.demo.plan import Plan

DRYING_MM = 150.0  # a month whose air takes this much more than falls counts as wholly dry


@dataclass(frozen=True, slots=True)
class Day:
    day: date
    rain_mm: float
    low_c: float
    high_c: float
    eto_mm: float


def make_weather(plan: Plan, since: date) -> list[Day]:
    """Every day from `since` to the town's today."""
    dice = np.random.default_rng([plan.seed, 1])
    climate = plan.climate
    days = []
    swing = 0.0
    day = since
    while day <= plan.today:
        month = day.month - 1
        swing = 0.72 * swing + dice.normal(0, 1.25)
        wet = dice.random() < climate["wet_days"][month] / 30.4
        rain = dice.gamma(0.9, climate["rain_mm"][month] / max(climate["wet_days"][month], 1) / 0.9)
        rain = rain if wet else 0.0
        high = climate["high_c"][month] + swing - (1.2 if wet else 0)
        low = climate["low_c"][month] + 0.7 * swing + (0.6 if wet else -0.3)
        eto = max(0.2, climate["eto_mm"][month] * (1 + 0.045 * swing) * (0.6 if wet else 1.05))
        for spell in plan.spells:
            if spell["from"] <= day <= spell["to"]:
                rain = spell.get("rain_mm", rain * spell.get("rain", 1.0))
                high += spell.get("warmer_c", 0.0)
                low = spell.get("low_c", low + 0.5 * spell.get("warmer_c", 0.0))
                eto *= 1 + 0.035 * spell.get("warmer_c", 0.0)
        low = min(low, high - 1.5)
        days.append(Day(day, *(round(float(value), 1) for value in (rain, low, high, eto))))
        day += timedelta(days=1)
    return days


def dryness_by_month(days: list[Day]) -> dict[tuple[int, int], float]:
    """0 where the rain covered what the air took, up to 1.2 in a month with hardly any rain."""
    balance: dict[tuple[int, int], float] = {}
    for day in days:
        month = (day.day.year, day.day.month)
        balance[month] = balance.get(month, 0.0) + day.eto_mm - day.rain_mm
    return {month: min(1.2, max(0.0, short / DRYING_MM)) for month, short in balance.items()}
