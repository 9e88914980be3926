"""When weather holds the lift, when it goes on again, and whether the day as expected allows it.

Winds are those of the lift's own calculation; going on needs less wind than holding, by the owner's
rule. Sources: lightning, Texas Department of Insurance after OSHA and NOAA (seen in an excerpt);
machine, EN 13000, -20 °C (from memory); slings, ``sling_temperatures.csv``; light, 29 CFR
1926.56, 5 foot-candles (from memory); persons, 29 CFR 1926.1431(k)(8), 20 mph (from memory); rain,
ice and snow, 29 CFR 1926.1417 (from memory).
"""

import csv
from functools import cache
from pathlib import Path

import numpy as np

from liftcalc.base.checks import Check, limit_check, stated_check
from liftcalc.base.text import Show
from liftcalc.facts.weather import Weather
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.persons import PERSONS_GUST_M_S
from liftcalc.lift.wind_checks import lowered_words, stop_gust_m_s

WEATHER_COLUMNS = ("What", "Hold", "Restart", "Source")
MACHINE_LOW_C = -20.0
"""Coldest that a crane is made for where its manual says nothing else: EN 13000, from memory."""
LIGHT_LUX = 5 * 10.764
"""Least light on the work: 5 foot-candles, 29 CFR 1926.56, from memory. [lux]"""
_NEEDED = {
    "rigging_gust_m_s": "wind for rigging up", "machine_low_C": "temperature range of the machine",
    "low_C": "lowest and highest temperature of the day", "start": "working hours",
    "light_from": "hours of daylight",
}  # fmt: skip


@cache
def _sling_limits() -> dict[str, tuple[float, float, str]]:
    """Coldest and hottest of each kind of accessory, and the source."""
    text = Path(__file__).with_name("sling_temperatures.csv").read_text(encoding="utf-8")
    return {
        r["kind"]: (float(r["low_C"]), float(r["high_C"]), r["source"])
        for r in csv.DictReader(text.splitlines())
    }


def _weather(a: LiftAssessment) -> Weather | None:
    return a.job.plan.weather if a.job.plan else None


def _gear_limits(a: LiftAssessment) -> tuple[float, float, str]:
    """The narrowest range of what the lift hangs on. [degrees C]"""
    gear = a.setup.hanging.gear
    kinds = [gear.sling.kind, *([gear.top_sling.kind] if gear.top_sling else []),
             *(["shackle"] if gear.shackle else [])]  # fmt: skip
    limits = [_sling_limits()[kind] for kind in dict.fromkeys(kinds)]
    words = "; ".join(f"{k}: {_sling_limits()[k][2]}" for k in dict.fromkeys(kinds))
    return max(x[0] for x in limits), min(x[1] for x in limits), words


def _temperature_checks(a: LiftAssessment, w: Weather) -> list[Check]:
    if w.low_C is None or w.high_C is None:
        return []
    cold, hot, source = _gear_limits(a)
    hottest = w.high_C if w.load_C is None else max(w.high_C, w.load_C)
    least, machine = w.machine_low_C, f"{w.manual}"
    if least is None:
        least, machine = MACHINE_LOW_C, "EN 13000 (from memory); the manual's range not stated"
    rows = [
        limit_check("weather-machine-cold", "Temperature: lowest of the day / minimum of the crane",
                    value=w.low_C, limit=least, sense="min",
                    quantity="temperature_C", reference=machine, remedy="Wait for warmer weather."),
        limit_check("weather-gear-cold", "Temperature: lowest of the day / minimum of the slings",
                    value=w.low_C, limit=cold, sense="min", quantity="temperature_C",
                    reference=source, remedy="Wait, or use slings rated for the cold."),
        limit_check("weather-gear-hot", "Temperature: hottest of load and rigging / maximum of the "
                    "slings", value=hottest, limit=hot, quantity="temperature_C",
                    reference=source, remedy="Let the load cool, or use slings rated for it."),
    ]  # fmt: skip
    if w.machine_high_C is not None:
        rows.append(limit_check(
            "weather-machine-hot", "Temperature: highest of the day / maximum of the crane",
            value=w.high_C, limit=w.machine_high_C, quantity="temperature_C",
            reference=machine, remedy="Wait for cooler weather.",
        ))  # fmt: skip
    return rows


def _light_check(w: Weather) -> list[Check]:
    """Whether all of the working hours lie in daylight, or the lighting stated is enough."""
    if w.start is None or w.end is None or w.light_from is None or w.light_to is None:
        return []
    day = w.light_from <= w.start and w.end <= w.light_to
    hours = f"work {w.start} to {w.end}, daylight {w.light_from} to {w.light_to}"
    enough = day or (w.lighting_lux or 0.0) >= LIGHT_LUX
    return [limit_check(
        "weather-light", "Light: working hours in darkness without enough lighting",
        value=float(not enough), limit=0.0, quantity="count",
        reference=f"29 CFR 1926.56, 5 foot-candles, {LIGHT_LUX:.0f} lux (from memory)",
        where=hours + (f"; lighting {w.lighting_lux or 0.0:.0f} lux stated" if not day else ""),
        remedy="Lift in daylight, or state lighting of at least as much.",
    )]  # fmt: skip


def _ice_checks(a: LiftAssessment, w: Weather) -> list[Check]:
    """Ice that may hang on it is part of the gross load, and on top of the rigging's force."""
    if not w.ice_t:
        return []
    held = [d.mass_t for d in a.setup.lift.deductions if d.name.lower().startswith("ice")]
    hung, study = a.setup.hanging.gear.hung_t, a.rigging
    most = np.inf
    if study.greatest is not None:
        most = study.greatest.worst_utilisation * (hung + w.ice_t) / hung
    return [
        limit_check("weather-ice", "Ice and snow: mass in the lift's deductions / mass stated",
                    value=sum(held), limit=w.ice_t, sense="min", quantity="mass_t",
                    reference="29 CFR 1926.1417 (from memory)",
                    where="gross load, outriggers and ground hold what the deductions hold",
                    remedy="Clear it off, or add a deduction named ice to the lift."),
        limit_check("weather-ice-rigging", "Ice and snow: rigging utilisation with it",
                    value=100.0 * float(most), limit=100.0, quantity="percent",
                    reference="statics", remedy="Clear it off, or use stronger rigging."),
    ]  # fmt: skip


def weather_checks(a: LiftAssessment) -> list[Check]:
    """Rows of the plan on the weather; what is not stated is missing by name."""
    w = _weather(a)
    missing = [words for name, words in _NEEDED.items() if w is None or getattr(w, name) is None]
    missing = ["the owner's weather rule", *missing] if w is None else missing
    stated = stated_check(
        "weather-stated", "Weather: values that are not stated", missing=len(missing),
        of=len(_NEEDED) + 1, where=", ".join(missing), reference="29 CFR 1926.1417 (from memory)",
        remedy="State them under weather in the plan.",
    )  # fmt: skip
    if w is None:
        return [stated]
    return [stated, *_temperature_checks(a, w), *_light_check(w), *_ice_checks(a, w)]


def weather_rows(a: LiftAssessment, show: Show) -> list[tuple[str, ...]]:
    """The go/no-go table of the day: what holds the lift, when it goes on, by whose word."""
    w, setup = _weather(a), a.setup
    gust = stop_gust_m_s(setup, float(a.study.boom.head_z_m.max()))
    own = "not stated" if w is None else w.reference

    def wind(name: str, hold: float | None, source: str, do: str = "") -> tuple[str, ...]:
        if hold is None:
            return (name, "not stated: no wind in which load or boom moves is allowed", "–", source)
        again = "not stated"
        if w is not None:
            again = (
                f"below {show(hold * w.restart_percent / 100, 'speed_m_s', 'down')} for "
                f"{w.calm_min:g} minutes ({own})"
            )
        return (name, f"gust above {show(hold, 'speed_m_s', 'down')}{do}", again, source)

    cold, hot, slings = _gear_limits(a)
    low = MACHINE_LOW_C if w is None or w.machine_low_C is None else w.machine_low_C
    top = "" if w is None or w.machine_high_C is None else (
        f" or above {show(w.machine_high_C, 'temperature_C', 'down')}")  # fmt: skip
    manual = (w.manual if w is not None else None) or "manual not stated"
    minutes = w.lightning_min if w is not None else 30.0
    ice = w.ice_t if w is not None else None
    held = f"above {show(ice, 'mass_t')} on it" if ice else "any that can be seen"
    return [
        wind("Lifting", gust, "calculated, lift check: at the boom head, no more than planned"),
        wind("Persons lifted" if setup.lift.persons else "Persons (none planned)",
             min(gust, PERSONS_GUST_M_S), "29 CFR 1926.1431(k)(8), 20 mph (from memory)"),
        wind("Rigging up and down", None if w is None else w.rigging_gust_m_s, manual),
        wind("Laid down, out of service", setup.wind_limit_m_s,
             "machine data and charts: no out-of-service wind stated",
             f": boom lowered{lowered_words(setup)}"),
        ("Lightning", "thunder heard or lightning seen: load down, everybody away from crane, load "
         "and lines", f"{minutes:g} minutes after the last thunder",
         "Texas Department of Insurance after OSHA and NOAA (seen in an excerpt)"),
        ("Temperature, crane", f"below {show(low, 'temperature_C', 'up')}{top}",
         "back in the range",
         "EN 13000 (from memory)" if w is None or w.machine_low_C is None else manual),
        ("Temperature, slings", f"below {show(cold, 'temperature_C', 'up')} or touching what is "
         f"above {show(hot, 'temperature_C', 'down')}", "back in the range, slings inspected",
         slings),
        ("Visibility", "load, path or signaller not seen"
         + ("" if w is None else f" over {show(w.visibility_m, 'length_m', 'up')}"),
         "all seen again, radio tested", own),
        ("Light", f"below 5 foot-candles ({LIGHT_LUX:.0f} lux) at load and signaller",
         "daylight, or lighting measured", "29 CFR 1926.56 (from memory)"),
        ("Rain, ice and snow", f"ice or snow on load, rigging, boom or mats: {held}; rain in which "
         "signals are not seen or brakes, footing and wet slings are in doubt",
         "cleared off and inspected by the lift supervisor; "
         + (f"{show(ice, 'mass_t')} is in the calculation" if ice
            else "no mass for it is in the calculation"), "29 CFR 1926.1417 (from memory)"),
    ]  # fmt: skip
