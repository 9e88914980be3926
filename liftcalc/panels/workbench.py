"""The workbench on the page: controls, drawings and tables that follow the controls.

The page sends what a control was set to; the session judges it; the page gets back values, limits,
errors in words, drawings and tables. One answer is under way at a time and the page sends the
newest setting after it, so a slider never runs ahead of its picture.
"""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from liftcalc.base.errors import InputError, LiftcalcError
from liftcalc.base.text import text_in_units
from liftcalc.base.units import UnitSystem
from liftcalc.base.words import STATE_WORDS
from liftcalc.panels import tables
from liftcalc.panels.pictures import PICTURES, Easel
from liftcalc.panels.session import Session
from liftcalc.panels.settings import GROUPS, require_known
from liftcalc.panels.tables import check_table_html, compare_table_html, verdict_words
from liftcalc.panels.texts import page_texts
from liftcalc.run.measured import make_as_set_up

_STATIC = Path(__file__).parent / "static"

STEPS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "whole": (tuple(GROUPS), ("plan", "capacity", "forces")),
    "site": (("stand",), ("plan", "area")),
    "legs": (("legs", "stand", "look"), ("plan", "capacity", "locus")),
    "lift": (("look", "lift"), ("plan", "elevation", "utilisation")),
    "ground": (("legs", "lift"), ("plan", "forces")),
}
"""Groups of controls and first drawings of each step's workbench."""


class Workbench(anywidget.AnyWidget):
    """Controls, drawings and tables of one session."""

    _esm = _STATIC / "workbench.js"
    _css = _STATIC / "workbench.css"
    layout_spec = traitlets.Dict().tag(sync=True)

    def __init__(self, session: Session, *, groups: Sequence[str] = (), pictures: Sequence[str] = ()) -> None:
        self.session = session
        self.groups = tuple(groups or GROUPS)
        self.pictures = list(pictures or STEPS["whole"][1])
        self._easel, self._kept_easel = Easel(), Easel()
        for name in self.groups:
            require_known("group", name, GROUPS)
        for name in self.pictures:
            require_known("picture", name, PICTURES)
        layout = {"groups": list(self.groups), "pictures": list(PICTURES)}
        archive = str(Path.cwd() / "records")
        super().__init__(layout_spec={**layout, "archive": archive, "texts": self._texts()})
        self.on_msg(self._receive)

    def __repr__(self) -> str:
        """The same text each time, whatever folder or machine."""
        return f"Workbench: job {self.session.job.id}, lift {self.session.lift_id}"

    def _texts(self) -> dict[str, str]:
        """Words of the page in the units of the session."""
        session = self.session
        own = {f"group-{name}": text for name, text in GROUPS.items()}
        own |= {f"picture-{name}": picture.name for name, picture in PICTURES.items()}
        return page_texts(session.system, own, invented=session.job.invented)

    def _receive(self, _widget: object, content: object, _buffers: object) -> None:
        if not isinstance(content, dict):
            return
        if content.get("kind") == "alive":
            self.send({"kind": "alive"})
            return
        try:
            self.send(self.answer(content))
        except Exception as error:
            # the page waits for an answer: tell it before the error goes its way
            words = f"Error in the program, nothing shown is up to date: {error!r}"
            self.send({"kind": "failure", "seq": content.get("seq"), "problem": words})
            raise

    def answer(self, message: dict[str, Any]) -> dict[str, Any]:
        """The state after a message of the page; input errors in words.

        Messages have a ``kind``: hello, set, pictures, units, lift, undo, redo, reset, use, keep,
        drop, open, save, record, measured.
        """
        errors: dict[str, str] = {}
        note = ""
        try:
            match message.get("kind"):
                case "hello":
                    pass
                case "set":
                    final = bool(message.get("final", True))
                    errors = self.session.set(message["values"], final=final)
                case "save":
                    note = self._save(message)
                case "measured":
                    note = self._measured(message)
                case "pictures" | "units":
                    self._show(message)
                case "lift" | "open" | "record":
                    self._open(message)
                case kind:
                    self._change(str(kind), message)
        except LiftcalcError as error:
            errors = {"": str(error)}
        return self.state(errors, note) | {"seq": message.get("seq")}

    def _show(self, message: dict[str, Any]) -> None:
        """Show other pictures or units."""
        if message["kind"] == "units":
            if message["system"] not in ("metric", "us"):
                raise InputError.of("units", message["system"], "metric or us")
            self.session.system = message["system"]
            return
        wanted = [str(name) for name in message["names"]]
        for name in wanted:
            require_known("picture", name, PICTURES)
        self.pictures = wanted

    def _open(self, message: dict[str, Any]) -> None:
        """Take another lift, job or record."""
        if message["kind"] == "lift":
            self.session.choose(str(message["id"]))
        else:
            record = message["kind"] == "record"
            path = str(message["path"])
            session = Session.from_record(path) if record else Session.open(path or None)
            session.system = self.session.system
            self.session = session
        self._easel.new_lift()

    def _change(self, kind: str, message: dict[str, Any]) -> None:
        """Change the set-up by a button."""
        session = self.session
        buttons: dict[str, Callable[[], None]] = {
            "undo": session.undo, "redo": session.redo, "reset": session.reset,
            "use": lambda: session.use_position(str(message["end"])),
            "keep": session.keep, "drop": session.drop_kept,
        }  # fmt: skip
        if kind not in buttons:
            raise InputError.of("kind", kind, "a message that the workbench knows")
        buttons[kind]()

    def _save(self, message: dict[str, Any]) -> str:
        prepared_by = str(message.get("prepared_by", ""))
        rows = self.session.save(str(message["archive"]), prepared_by=prepared_by)
        made = ", ".join(row.record for row in rows)
        there = sum(row.status == "already there" for row in rows)
        said = f"Saved {len(rows)} records: {made}." + f" {there} were already there." * bool(there)
        return " ".join([said, *{f"Note: {row.message}." for row in rows if row.message}])

    def _measured(self, message: dict[str, Any]) -> str:
        """Hold a file of measurements against the lift plan of a record, and archive the sheet."""
        paths = (Path(str(message[name])).expanduser() for name in ("path", "measured"))
        made = make_as_set_up(*paths, prepared_by=str(message.get("prepared_by", "")))
        said = STATE_WORDS.get(made.manifest.verdict, made.manifest.verdict)
        return f"As set up: {said}; {made.manifest.governing}. Record {made.manifest.record}."

    def state(self, errors: dict[str, str] | None = None, note: str = "") -> dict[str, Any]:
        """Everything the page shows, as plain values."""
        session = self.session
        now, kept, system = session.now, session.kept, session.system
        controls = [c for c in session.controls if c.group in self.groups]
        status, words = verdict_words(now, system)
        settings = {c.id: getattr(session.settings, c.id) for c in controls}
        compare: dict[str, Any] | None = None
        if kept is not None:
            pictures = self._kept_easel.draw(self.pictures[:1], kept, system=system, prefix="kept")
            table = compare_table_html(kept, now, system)
            compare = {"table": table, "picture": next(iter(pictures.values()))}
        return {
            "kind": "state",
            "controls": [c.spec(system) for c in controls],
            "values": {c.id: c.display(settings[c.id], system) for c in controls},
            "said": {c.id: text_in_units(c.said(settings[c.id], system), system) for c in controls},
            "texts": self._texts(),
            "errors": errors or {},
            "note": note,
            "status": status,
            "verdict": words,
            "checks": check_table_html(now, system),
            "position": tables.position_table_html(now, system),
            "names": list(self.pictures),
            "pictures": self._easel.draw(self.pictures, now, system=system),
            "compare": compare,
            "system": system,
            "job": f"{session.job.title} ({session.job_name})",
            "lifts": [[lift.id, f"{lift.id} {lift.title}"] for lift in session.job.lifts],
            "lift": session.lift_id,
            "undo": session.can_undo,
            "redo": session.can_redo,
        }


def open_workbench(
    job: str | Path | None = None, lift: str | None = None, *, step: str = "whole", units: UnitSystem = "metric"
) -> Workbench:
    """Open the workbench on a job file; the invented demo job if none is given.

    Parameters:
      lift: optional. Id of the lift; the first of the job if left out.
      step: a key of :data:`STEPS`. Which controls and drawings to start with.
    Raises: A file that cannot be read as a job; an unknown lift or step.
    """
    require_known("step", step, STEPS)
    groups, pictures = STEPS[step]
    session = Session.open(job, lift)
    session.system = units
    return Workbench(session, groups=groups, pictures=pictures)
