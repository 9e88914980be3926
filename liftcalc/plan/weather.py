"""When weather holds the lift, when it goes on again, and whether the day as expected allows it.

Winds are those of the lift's own calculation; going on needs less wind than holding, by the owner's
rule. Sources: lightning, Texas Department of Insurance after OSHA and NOAA (seen in an excerpt); machine, EN 13000, -20
°C (from memory); slings, ``sling_temperatures.csv``; light, 29 CFR 1926.56, 5 foot-candles (from memory); persons, 29
CFR 1926.1431(k)(8), 20 mph (from memory); rain, ice and snow, 29 CFR 1926.1417 (from memory).
"""

from pathlib import Path
from typing import Any

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.base.files import rows_beside
from liftcalc.base.text import Show, filled
from liftcalc.facts.weather import Weather
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.check_rows import check_row
from liftcalc.lift.persons import PERSONS_GUST_M_S
from liftcalc.lift.wind_checks import lowered_words, stop_gust_m_s

WEATHER_COLUMNS = ("What", "Hold", "Restart", "Source")
MACHINE_LOW_C = -20.0
"""Coldest that a crane is made for where its manual says nothing else: EN 13000, from memory."""
LIGHT_LUX = 5 * 10.764
"""Least light on the work: 5 foot-candles, 29 CFR 1926.56, from memory. [lux]"""
_NEEDED = {
    "rigging_gust_m_s": "wind for rigging up", "machine_low_C": "temperature range of the machine",
    "low_C": "lowest and highest temperature of the day", "start": "working hours", "light_from": "hours of daylight",
}  # fmt: skip
_ROWS = rows_beside(__file__)
_SLINGS = {r["kind"]: r for r in rows_beside(str(Path(__file__).with_name("sling_temperatures")))}
"""Coldest and hottest of each kind of accessory, and the source."""


def _weather(a: LiftAssessment) -> Weather | None:
    return a.job.plan.weather if a.job.plan else None


def _gear_limits(a: LiftAssessment) -> tuple[float, float, str]:
    """The narrowest range of what the lift hangs on. [degrees C]"""
    gear = a.setup.hanging.gear
    kinds = [gear.sling.kind, *([gear.top_sling.kind] if gear.top_sling else []),
             *(["shackle"] if gear.shackle else [])]  # fmt: skip
    limits = [_SLINGS[kind] for kind in dict.fromkeys(kinds)]
    words = "; ".join(f"{x['kind']}: {x['source']}" for x in limits)
    return max(float(x["low_C"]) for x in limits), min(float(x["high_C"]) for x in limits), words


def _temperature_checks(a: LiftAssessment, w: Weather) -> list[Check]:
    if w.low_C is None or w.high_C is None:
        return []
    cold, hot, source = _gear_limits(a)
    hottest = w.high_C if w.load_C is None else max(w.high_C, w.load_C)
    least, manual = w.machine_low_C, f"{w.manual}"
    if least is None:
        least, manual = MACHINE_LOW_C, "EN 13000 (from memory); the manual's range not stated"
    high = w.machine_high_C
    return [
        check_row("weather-machine-cold", w.low_C, least, manual=manual),
        check_row("weather-gear-cold", w.low_C, cold, source=source),
        check_row("weather-gear-hot", hottest, hot, source=source),
        *([] if high is None else [check_row("weather-machine-hot", w.high_C, high, manual=manual)]),
    ]


def _light_check(w: Weather) -> list[Check]:
    """Whether all of the working hours lie in daylight, or the lighting stated is enough."""
    if w.start is None or w.end is None or w.light_from is None or w.light_to is None:
        return []
    day, lux = w.light_from <= w.start and w.end <= w.light_to, w.lighting_lux or 0.0
    return [check_row("weather-light", float(not day and lux < LIGHT_LUX), 0.0, least=LIGHT_LUX,
                     w=w, lit="" if day else f"; lighting {lux:.0f} lux stated")]  # fmt: skip


def _ice_checks(a: LiftAssessment, w: Weather) -> list[Check]:
    """Ice that may hang on it is part of the gross load, and on top of the rigging's force."""
    if not w.ice_t:
        return []
    held = [d.mass_t for d in a.setup.lift.deductions if d.name.lower().startswith("ice")]
    hung, study = a.setup.hanging.gear.hung_t, a.rigging
    most = np.inf
    if study.greatest is not None:
        most = study.greatest.worst_utilisation * (hung + w.ice_t) / hung
    return [check_row("weather-ice", sum(held), w.ice_t), check_row("weather-ice-rigging", 100.0 * float(most), 100.0)]


def weather_checks(a: LiftAssessment) -> list[Check]:
    """Rows of the plan on the weather; what is not stated is missing by name."""
    w = _weather(a)
    missing = [words for name, words in _NEEDED.items() if w is None or getattr(w, name) is None]
    missing = ["the owner's weather rule", *missing] if w is None else missing
    stated = check_row("weather-stated", len(missing), len(_NEEDED) + 1, missing=", ".join(missing))
    if w is None:
        return [stated]
    return [stated, *_temperature_checks(a, w), *_light_check(w), *_ice_checks(a, w)]


def weather_rows(a: LiftAssessment, show: Show) -> list[tuple[str, ...]]:
    """The go/no-go table of the day: what holds the lift, when it goes on, by whose word."""
    w, setup = _weather(a), a.setup
    said: dict[str, Any] = {} if w is None else dict(w)
    own, manual = said.get("reference", "not stated"), said.get("manual") or "manual not stated"
    low, high, ice = (said.get(name) for name in ("machine_low_C", "machine_high_C", "ice_t"))
    cold, hot, slings = _gear_limits(a)

    def wind(hold: float | None, do: str = "") -> tuple[str, str]:
        """When it holds, and when it goes on."""
        if hold is None:
            return "not stated: no wind in which load or boom moves is allowed", "–"
        again = "not stated" if w is None else (
            f"below {show(hold * w.restart_percent / 100, 'speed_m_s', 'down')} for "
            f"{w.calm_min:g} minutes ({own})"
        )  # fmt: skip
        return f"gust above {show(hold, 'speed_m_s', 'down')}{do}", again

    gust = stop_gust_m_s(setup, float(a.study.boom.head_z_m.max()))
    words = {
        "lifting": wind(gust), "own": own, "manual": manual, "cold": cold, "hot": hot,
        "who": "Persons lifted" if setup.lift.persons else "Persons (none planned)",
        "persons": wind(min(gust, PERSONS_GUST_M_S)),
        "rigging": wind(said.get("rigging_gust_m_s")),
        "down": wind(setup.wind_limit_m_s, f": boom lowered{lowered_words(setup)}"),
        "minutes": said.get("lightning_min", 30.0), "low": MACHINE_LOW_C if low is None else low,
        "top": "" if high is None else f" or above {show(high, 'temperature_C', 'down')}",
        "range_by": "EN 13000 (from memory)" if low is None else manual, "slings": slings,
        "far": "" if w is None else f" over {show(w.visibility_m, 'length_m', 'up')}", "lux": LIGHT_LUX,
        "ice": f"above {show(ice, 'mass_t')} on it" if ice else "any that can be seen",
        "counted": f"{show(ice, 'mass_t')} is" if ice else "no mass for it is",
    }  # fmt: skip
    return [filled(row.values(), words, show) for row in _ROWS]
