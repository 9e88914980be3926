"""The site card: what the crew needs on one page.

Everything here is read from the assessed lift; nothing is calculated. The lines to fill in are the
firm's own: signals, stop rules and names are not ours to state.
"""

import numpy as np

from liftcalc.base.text import Show
from liftcalc.crane.sectors import ESTIMATE
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.close_path import path_corners
from liftcalc.lift.conditions import confirmation_rows
from liftcalc.lift.leg_setting import setting_lines
from liftcalc.lift.path import LoadPath, signed_deg
from liftcalc.lift.setup import rope_off_drum_m
from liftcalc.lift.wind_checks import lowered_words, stop_gust_m_s

CARD_COLUMNS = ("Leg", "Not less than", "Mat", "Packing", "Greatest force", "Ground")
CARD_BLANKS = (
    "Signals and radio channel (the firm's own)",
    "Stop rules (the firm's own)",
    "Lift supervisor, operator, signaller",
    "Level checked by, wind measured by, at what time",
    "Date and signatures",
)


def card_headline(lift: LiftAssessment) -> str:
    """The verdict over all four sheets, in words for the crew."""
    status = lift.verdict.status
    if status == "within":
        return "Planned within every limit. The operator's chart and limiter govern."
    if status == "condition":
        return (
            f"DO NOT LIFT UNTIL {lift.verdict.conditions}: planned within limits on this "
            "condition. The operator's chart and limiter govern."
        )
    failed = "; ".join(c.title for c in lift.verdict.failed[:3])
    return f"DO NOT LIFT AS PLANNED: {failed}"


def card_rows(lift: LiftAssessment, show: Show) -> list[tuple[str, str]]:
    """Machine, stand, limits of slew, radius, load and wind."""
    setup, path = lift.setup, lift.path
    data, machine = setup.lift, setup.machine
    block = machine.hook_block(data.hook_block)
    stop = stop_gust_m_s(setup, float(lift.study.boom.head_z_m.max()))

    def metres(value: float) -> str:
        return show(float(value), "length_m")

    rope = (
        "Hoist rope, not checked",
        f"{metres(rope_off_drum_m(setup))} off the drum with the hook at its lowest: make sure "
        "that the manual's least wraps stay on",
    )
    return [
        ("Lift", f"{data.id}: {data.title}"),
        (
            "Machine",
            f"{machine.name}; counterweight {data.counterweight}; boom "
            f"{metres(setup.boom.length_m)}; hook block {block.id}, {block.falls} falls",
        ),
        (
            "Stand of the slew centre",
            f"{metres(data.stand.easting_m)} E, {metres(data.stand.northing_m)} N, front toward "
            f"{(90 - data.stand.heading_deg) % 360:.0f}° from north",
        ),
        ("Outriggers", " ".join(setting_lines(setup, lift.settings, show))),
        ("Level", _level_words(lift)),
        ("Load on the hook, everything below the boom head", _load_words(lift, show)),
        *([rope] if machine.rope_length_m is None else []),
        *((name, f"{text}; {source}") for name, text, source in confirmation_rows(setup)),
        (
            "Radius",
            f"{metres(path.radius_m.min())} to {metres(path.radius_m.max())}: no farther out, nor "
            "with an empty hook; plumb under the hook, over the load's centre of gravity. Lay the "
            f"boom down{lowered_words(setup)}",
        ),
        ("Slew", _slew_words(path)),
        ("Way of the load, no other", _way_words(path, show)),
        (
            "Carry height",
            f"{_carry_words(path, show)}, no lower and no higher: head room, overhead lines and "
            "clearances were checked there alone",
        ),
        (
            "Stop for wind above",
            f"{show(stop, 'speed_m_s')} gust at the boom head: the lift is planned for no more",
        ),
        *_line_rows(lift, show),
    ]


def _load_words(lift: LiftAssessment, show: Show) -> str:
    """Gross load and what rates it where it governs; an estimate rates nothing."""
    capacity, k = lift.study.capacity, lift.study.governing_step
    rated = capacity.source[k] < ESTIMATE
    return (
        f"{show(lift.setup.gross_t, 'mass_t')} at most; rated "
        f"{show(float(capacity.capacity_t[k]), 'mass_t') if rated else 'nothing here'} at the "
        f"worst point ({capacity.radius_m[k]:.2f} m radius)"
    )


def _line_rows(lift: LiftAssessment, show: Show) -> list[tuple[str, str]]:
    """How far to keep from each overhead line."""
    return [
        (
            "Overhead line",
            f"{c.title}: keep {show(c.limit, 'length_m')}; least planned "
            f"{show(c.value, 'length_m')}",
        )
        for c in lift.lift
        if c.id.startswith("line-") and c.limit is not None
    ]


def _slew_words(path: LoadPath) -> str:
    """Between which slews the boom turns, and which way where it never turns back."""
    slew = path.slew_deg
    turn = np.diff(slew)
    ends, way = (slew[0], slew[-1]), "anticlockwise from"
    if (turn < 0).any():
        way = "clockwise from"
        if (turn > 0).any():
            ends, way = (slew.min(), slew.max()), "there and back, anticlockwise from"
    start, end = (signed_deg(s) for s in ends)
    return f"{way} {start:.0f}° to {end:.0f}° (0° over the front, anticlockwise), nowhere else"


def _way_words(path: LoadPath, show: Show) -> str:
    """The corners of the load's path in their order: capacity and clearances hold on it alone."""
    corners = path_corners(path)
    return "; then ".join(
        ("from " if n == 0 else f"{path.stage[k]} to ")
        + f"slew {signed_deg(path.slew_deg[k]):.0f}°, radius "
        f"{show(float(path.radius_m[k]), 'length_m')}, underside at level "
        f"{show(float(path.level_m[k]), 'length_m')}"
        for n, k in enumerate(corners)
    )


def _carry_words(path: LoadPath, show: Show) -> str:
    """Between which levels the load is carried across."""
    across = [k for k, stage in enumerate(path.stage) if stage in ("luff", "slew", "travel")]
    level = path.level_m[across] if across else path.level_m[[int(np.argmax(path.level_m))]]
    low, high = (show(float(z), "length_m") for z in (level.min(), level.max()))
    return f"underside of the load at level {low}" + ("" if low == high else f" to {high}, as told")


def _level_words(lift: LiftAssessment) -> str:
    """How level to set the machine, so that it stays within what is permitted as it settles."""
    permitted = lift.setup.permitted_tilt_percent
    during = f"within {permitted:g} % during the lift"
    settled = None if lift.ground is None else lift.ground.levelled
    if settled is None:
        return f"{during} and before it"
    left = permitted - float(np.max(settled.plane.slope_max_percent))
    if left < 0.1:
        return f"{during}: settling alone may use it up, re-level under load"
    return f"{during}; set up within {np.floor(left * 10 + 1e-9) / 10:.1f} %, for it will settle"


def card_legs(lift: LiftAssessment, show: Show) -> list[tuple[str, ...]]:
    """Setting of each leg."""
    setup, place, forces = lift.setup, lift.place, lift.forces
    return [
        (
            leg.name,
            show(extension, "extension_m"),
            setup.mat.name,
            show(1000 * packing, "small_length_mm"),
            show(force, "force_kN") if np.isfinite(force) else "tips over",
            zone or "unknown",
        )
        for leg, extension, packing, force, zone in zip(
            setup.machine.legs,
            setup.lift.legs.as_tuple(),
            place.packing_m.tolist(),
            forces.design_kN.tolist(),
            place.zones,
            strict=True,
        )
    ]
