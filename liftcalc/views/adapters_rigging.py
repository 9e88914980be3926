"""From the rigging study of a lift to its drawing.

Contents: :func:`rigging_data`. Selection and renaming only: every number comes from the study.
No published source.
"""

from __future__ import annotations

import numpy as np

from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.rigging_items import item_name
from liftcalc.lift.rigging_study import RiggingStudy
from liftcalc.views.rigging_data import RiggingDrawing, RiggingLine

__all__ = ["rigging_data"]


def _percent(study: RiggingStudy, name: str) -> float | None:
    for item in study.items:
        if item.name == name:
            return 100.0 * item.utilisation if np.isfinite(item.utilisation) else None
    return None


def _leg_lines(study: RiggingStudy) -> list[RiggingLine]:
    state, ends = study.stated, study.stated.beam_ends_m
    lines = []
    for k, lug in enumerate(study.lugs_m):
        end = int(lug[0] > 0)
        name = f"sling leg {k + 1}" if ends is None else f"bottom sling at end {end + 1}"
        lines.append(
            RiggingLine(
                name,
                "sling",
                lug,
                study.hook_m if ends is None else ends[0, end],
                study.factor * float(state.leg_tension_kN[0, k]),
                _percent(study, name),
                float(state.leg_angle_deg[0, k]),
            )
        )
    return lines


def _beam_lines(study: RiggingStudy) -> list[RiggingLine]:
    state, ends, beam = study.stated, study.stated.beam_ends_m, study.beam
    if ends is None or beam is None or state.compression_kN is None or state.end_kN is None:
        return []
    spread = state.top_tension_kN is not None and state.top_angle_deg is not None
    force = state.compression_kN[0] if spread else state.end_kN[0].sum()
    lines = [
        RiggingLine(
            "beam" if spread else "lifting beam",
            "beam",
            ends[0, 0],
            ends[0, 1],
            study.factor * float(force),
            _percent(study, item_name(beam.kind, beam.id)),
        )
    ]
    if state.top_tension_kN is None or state.top_angle_deg is None:
        return lines
    for k in range(2):
        lines.append(
            RiggingLine(
                f"top sling {k + 1}",
                "sling",
                ends[0, k],
                study.hook_m,
                study.factor * float(state.top_tension_kN[0, k]),
                _percent(study, f"top sling {k + 1}"),
                float(state.top_angle_deg[0, k]),
            )
        )
    return lines


def rigging_data(lift: LiftAssessment) -> RiggingDrawing:
    """Drawing data of the rigging with the centre of gravity as stated."""
    study, load = lift.rigging, lift.setup.lift.load
    return RiggingDrawing(
        (load.length_m, load.width_m, load.height_m),
        study.lugs_m,
        study.hook_m,
        study.cg_m,
        tuple(_beam_lines(study) + _leg_lines(study)),
        study.weakest.name,
        "Rigging",
    )
