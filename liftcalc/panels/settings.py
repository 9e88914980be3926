"""What the workbench's controls set, their limits, and the job with them set.

Limits come from the facts (stroke of an outrigger, boom lengths, site); a value outside is an error
in words, never clamped.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Literal

from pydantic import ValidationError

from liftcalc.base.errors import InputError
from liftcalc.base.text import DECIMALS, amount, format_value, text_in_units
from liftcalc.base.units import UnitSystem, from_si, to_si, unit_label
from liftcalc.base.words import slew_words
from liftcalc.facts.base import input_error
from liftcalc.facts.job import Job
from liftcalc.facts.lift import Lift
from liftcalc.lift.path import bearing_and_radius
from liftcalc.lift.placing import ground_level_m
from liftcalc.lift.setup import boom_at_length

Kind = Literal["number", "choice"]
GROUPS: dict[str, str] = {
    "legs": "Outriggers, from centreline",
    "stand": "Crane position",
    "look": "Boom position viewed (not the governing one)",
    "lift": "Boom, load, wind, mats",
}
_REACH_M = 12.0


@dataclass(frozen=True)
class Settings:
    """One set-up of a lift; lengths in m, angles in deg, mass in t, wind in m/s."""

    leg_FL: float
    leg_FR: float
    leg_RR: float
    leg_RL: float
    easting: float
    northing: float
    heading: float
    slew: float
    radius: float
    boom: float
    load: float
    wind: float
    mat: str
    pick: tuple[float, float]
    set_down: tuple[float, float]

    def differs_only_in_view(self, other: Settings) -> bool:
        """True if only the boom position viewed differs: the lift itself is the same."""
        return replace(self, slew=other.slew, radius=other.radius) == other


_TYPED = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)")
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")


def _typed_number(label: str, typed: str, unit: str) -> float:
    """A typed entry as a number, point or comma for the decimals; anything else is refused.

    "1,234" is read by some as a thousand and by others as one and a bit: it is refused too.
    """
    text = typed.strip().replace("\u2212", "-")
    if _THOUSANDS.fullmatch(text):
        both = f"{text.replace(',', '')} or {text.replace(',', '.')}"
        raise InputError.of(label, typed, f"a number in {unit} that reads one way: {both}")
    if not _TYPED.fullmatch(text):
        raise InputError.of(label, typed or "nothing", f"a number in {unit}")
    return float(text.replace(",", "."))


@dataclass(frozen=True)
class Control:
    """One control; limits in the package's own units."""

    id: str
    label: str
    group: str
    kind: Kind = "number"
    quantity: str = "length_m"
    low: float = 0.0
    high: float = 0.0
    step: float = 0.05
    stops: tuple[float, ...] = ()
    """The only values allowed, where an outrigger is pinned."""
    choices: tuple[tuple[str, str], ...] = ()
    """Value and words of each choice."""
    names: tuple[str, ...] = ()
    """Names in the choices, shown as the facts give them."""

    def accept(self, value: object, system: UnitSystem = "metric") -> float | str:
        """The value in the package's unit, or :class:`InputError` in words and display units.

        A full turn is no turn: 360 degrees of slew are 0.
        """
        label = text_in_units(self.label, system)
        if self.kind == "choice":
            require_known(label, value, [v for v, _ in self.choices])
            return str(value)
        unit = unit_label(self.quantity, system)
        if isinstance(value, str):
            value = _typed_number(label, value, unit)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise InputError.of(label, value, f"a number in {unit}")
        number = round(float(to_si(float(value), self.quantity, system)), 6)
        slack = 1e-6
        if not (self.low - slack <= number <= self.high + slack and math.isfinite(number)):
            low, high = (self._rounded(v, system) for v in (self.low, self.high))
            raise InputError.of(label, value, f"{low} to {high} {unit}".rstrip())
        if self.stops:
            near = min(self.stops, key=lambda s: abs(s - number))
            if abs(near - number) > 5e-4:
                names = ", ".join(self._rounded(s, system) for s in self.stops)
                raise InputError.of(label, value, f"pinned at {names} {unit}")
            return near
        return number % 360.0 if self.quantity == "slew_deg" else number

    def _digits(self, system: UnitSystem) -> int:
        return DECIMALS[self.quantity][system == "us"]

    def _rounded(self, value: float, system: UnitSystem) -> str:
        return f"{float(from_si(value, self.quantity, system)):.{self._digits(system)}f}"

    def spec(self, system: UnitSystem) -> dict[str, Any]:
        """Plain values for the page, in display units and their words."""
        plain: dict[str, Any] = {k: getattr(self, k) for k in ("id", "group", "kind")}
        plain["label"] = text_in_units(self.label, system)
        if self.kind == "choice":
            words = partial(text_in_units, system=system, keep=self.names)
            return {**plain, "choices": [[value, words(text)] for value, text in self.choices]}
        low, high = (float(from_si(v, self.quantity, system)) for v in (self.low, self.high))
        step = self.step
        if system == "us" and self.quantity in ("length_m", "mass_t"):
            step = {"length_m": 0.1, "mass_t": 100.0}[self.quantity]
        count = max(1, round((high - low) / step))
        plain |= {"min": low, "max": high, "digits": self._digits(system)}
        plain["step"] = (high - low) / count  # whole steps, so that the range's end can be reached
        plain["unit"] = unit_label(self.quantity, system)
        plain["stops"] = [float(from_si(s, self.quantity, system)) for s in self.stops]
        return plain

    def display(self, value: float | str, system: UnitSystem) -> float | str:
        """A setting in display units."""
        return value if isinstance(value, str) else float(from_si(value, self.quantity, system))

    def said(self, value: float | str, system: UnitSystem) -> str:
        """What a direction means, in words; empty for anything else."""
        if self.id == "slew" and isinstance(value, float):
            return slew_words(value)
        if self.id == "heading" and isinstance(value, float):
            bearing = format_value(90.0 - value, "slew_deg", system)
            return f"front {bearing} clockwise from north"
        return ""


def settings_of(job: Job, lift_id: str) -> Settings:
    """The set-up as the facts give it; the boom position viewed is over the set-down place."""
    lift = job.for_lift(lift_id).lifts[0]
    slew, radius = bearing_and_radius(lift, lift.set_down)
    stand = lift.stand
    return Settings(
        *lift.legs.as_tuple(),  # FL, FR, RR, RL
        easting=stand.easting_m, northing=stand.northing_m, heading=stand.heading_deg % 360.0,
        slew=round(slew, 3) % 360.0, radius=round(radius, 3), boom=lift.boom_length_m,
        load=lift.load.mass_t, wind=lift.wind_m_s, mat=lift.mat,
        pick=(lift.pick.easting_m, lift.pick.northing_m),
        set_down=(lift.set_down.easting_m, lift.set_down.northing_m),
    )  # fmt: skip


def controls_of(job: Job, lift_id: str, settings: Settings) -> tuple[Control, ...]:
    """The controls with their limits; the radius follows the boom length set."""
    lift = job.for_lift(lift_id).lifts[0]
    machine = job.machine(lift.machine)
    boom = boom_at_length(machine, settings.boom)
    east, north = zip(*job.site.boundary, strict=True)
    legs = []
    for leg in machine.legs:
        stroke: dict[str, Any] = {"low": leg.extension_min_m, "high": leg.extension_max_m}
        stroke["stops"] = leg.steps_m
        legs.append(Control(f"leg_{leg.name}", f"Outrigger {leg.name}", "legs", **stroke))
    lengths = machine.boom.lengths_m
    lower_e, upper_e = _window(lift.stand.easting_m, min(east), max(east))
    lower_n, upper_n = _window(lift.stand.northing_m, min(north), max(north))
    turn: dict[str, Any] = {"quantity": "slew_deg", "high": 360.0, "step": 1.0}
    heaviest_t = max(machine.class_t / 2.0, lift.load.mass_t)
    sizes = {m.id: (amount(s, "length_m") for s in (m.length_m, m.width_m)) for m in job.mats}
    mats = tuple((m.id, f"{m.name} ({' × '.join(sizes[m.id])})") for m in job.mats)
    return (
        *legs,
        Control("easting", "Easting", "stand", low=lower_e, high=upper_e),
        Control("northing", "Northing", "stand", low=lower_n, high=upper_n),
        Control("heading", "Heading", "stand", **turn),
        Control("slew", "Slew", "look", **turn),
        Control("radius", "Radius", "look", low=boom.radius_min_m, high=boom.radius_max_m),
        Control("boom", "Boom length", "lift", low=lengths[0], high=lengths[-1], step=0.1),
        Control("load", "Load", "lift", quantity="mass_t", low=0.05, high=heaviest_t),
        Control("wind", "Wind", "lift", quantity="speed_m_s", high=20.0, step=0.1),
        Control("mat", "Mats", "lift", "choice", choices=mats, names=tuple(m.name for m in job.mats)),
    )


def _window(start: float, low: float, high: float) -> tuple[float, float]:
    """Range of a coordinate of the crane position: around the planned one, inside the site."""
    return max(low, start - _REACH_M), min(high, start + _REACH_M)


def with_settings(job: Job, lift_id: str, settings: Settings) -> Job:
    """The job with one lift set up as *settings* say, checked again as a whole.

    Raises: Settings that do not fit the facts, each named.
    """
    job = job.for_lift(lift_id)
    lift = job.lifts[0]
    stand = dict(lift.stand)
    place = (settings.easting, settings.northing)
    if place != (lift.stand.easting_m, lift.stand.northing_m):
        stand["level_m"] = round(float(ground_level_m(job.site, place[0], place[1])), 3)
    stand |= {"easting_m": place[0], "northing_m": place[1], "heading_deg": settings.heading}
    legs = {k: getattr(settings, f"leg_{k}") for k in ("FL", "FR", "RR", "RL")}
    load = dict(lift.load) | {"mass_t": settings.load}
    ends = {}
    for name in ("pick", "set_down"):
        east, north = getattr(settings, name)
        ends[name] = dict(getattr(lift, name)) | {"easting_m": east, "northing_m": north}
    plain = dict(lift) | ends | {"stand": stand, "legs": legs, "load": load, "mat": settings.mat}
    plain |= {"boom_length_m": settings.boom, "wind_m_s": settings.wind}
    try:
        return job.with_lift(Lift.model_validate(plain))
    except ValidationError as error:
        raise input_error(error, source=f"lift {lift_id}") from None


def require_known(field: str, name: object, known: Collection[str]) -> None:
    """Refuse a name that is none of the known ones, and say which there are."""
    if name not in known:
        raise InputError.of(field, name, ", ".join(known))
