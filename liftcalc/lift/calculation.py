"""The calculation that a sheet prints, from given values step by step to the checks it reaches.

Formulas are written once, as Python expressions of named symbols; from them come the printed
formula, the same with values, and a recalculation that must agree with the value that the package
used. A symbol has one meaning and one unit on a sheet; a step uses only what was given or
calculated before it in its section, so that a checker with a pocket calculator goes from the inputs
to the verdict. Units are SI; printed values carry one digit more than the tables of the sheet.

Source: statics and arithmetic; the sources of the formulas stand beside each row.
"""

import ast
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from liftcalc.base.checks import Check
from liftcalc.base.errors import InputError
from liftcalc.base.files import rows_beside
from liftcalc.base.text import amount
from liftcalc.base.units import G_M_S2

DIGITS = {"m": 3, "mm": 1, "m²": 3, "t": 3, "kN": 2, "kNm": 2, "kPa": 2, "°": 2, "%": 2, "": 4}
"""Decimals of a printed value by unit; another unit has three."""

GRAVITY = ("g", "acceleration of free fall", G_M_S2, "m/s².5", "standard value")
"""The row of a given value, for :meth:`Calculation.given`; as is the next."""
CIRCLE = ("pi", "ratio of a circle's circumference to its diameter", math.pi, ".6", "mathematics")

_GREEK = {
    "alpha": "α", "beta": "β", "gamma": "γ", "delta": "δ", "eta": "η", "theta": "θ", "kappa": "κ",
    "lambda": "λ", "mu": "μ", "nu": "ν", "pi": "π", "rho": "ρ", "sigma": "σ", "tau": "τ",
    "phi": "φ", "psi": "ψ", "omega": "ω", "Delta": "Δ", "Sigma": "Σ", "epsilon": "ε",
}  # fmt: skip
_FUNCTIONS: dict[str, Callable[..., float]] = {
    "sqrt": math.sqrt, "exp": math.exp, "ln": math.log, "abs": abs, "min": min, "max": max,
    "sin": lambda x: math.sin(math.radians(x)),
    "cos": lambda x: math.cos(math.radians(x)),
    "tan": lambda x: math.tan(math.radians(x)),
    "asin": lambda x: math.degrees(math.asin(x)),
    "acos": lambda x: math.degrees(math.acos(x)),
    "atan": lambda x: math.degrees(math.atan(x)),
    "atan2": lambda y, x: math.degrees(math.atan2(y, x)),
}  # fmt: skip
"""Functions of an expression; angles are in degrees."""

_NOT_FOLLOWING = "; DOES NOT FOLLOW from the values shown: do not use this sheet"

_STRENGTH: dict[type[ast.AST], tuple[int, str]] = {
    ast.Add: (1, " + "), ast.Sub: (1, " − "), ast.Mult: (2, " × "), ast.Div: (2, " / "), ast.Pow: (4, "^"),
}  # fmt: skip
"""How strongly an operator holds, and its sign as printed."""


def symbol_text(name: str) -> str:
    """A symbol as printed: "phi_2" is φ_2, "sigma_own" is σ_own."""
    return "_".join(_GREEK.get(part, part) for part in name.rstrip("_").split("_"))


class PrintedRow(NamedTuple):
    """A row of ``calculation.csv``: the words of one quantity, the same on every sheet.

    "#" stands for what the row is of, as an outrigger or a sling leg. The formula is empty where
    the value is given, or depends on the case: then the code has it; so with the source.
    """

    symbol: str
    meaning: str
    formula: str
    unit: str
    source: str


ROWS = {key: PrintedRow(symbol or key, *rest) for key, symbol, *rest in map(dict.values, rows_beside(__file__))}
"""Every quantity by its key: the symbol, or, where a symbol means several, one of them."""


@dataclass
class _Section:
    title: str
    where: str
    rows: list[dict[str, str]] = field(default_factory=list)
    values: dict[str, tuple[float, str]] = field(default_factory=dict)


class Calculation:
    """Sections of given values and steps; each section ends at a check of the sheet.

    What a sheet prints has its words in ``calculation.csv``, from where :meth:`facts`,
    :meth:`steps`, :meth:`work` and :meth:`ends` take them.

    Use::

        c = Calculation() c.section(check) c.given("m", "load mass", 4.2, "t", "load list") c.given("c", "contingency",
        10.0, "%", "load list") c.step("Q", "gross load", "m * (1 + c / 100)", "t", "sum", value=setup.gross_t)
        c.given("C", "rated capacity", 5.8, "t", "chart demo-50, row 16 m") c.reaches(check, "Q", "C")
    """

    def __init__(self) -> None:
        self.symbols: dict[str, tuple[str, str]] = {}
        self.mismatches: list[str] = []
        self.reached: dict[str, str] = {}
        self._sections: list[_Section] = []
        self._steps: dict[str, tuple[str, ...]] = {}

    def section(self, check: Check | None, title: str = "") -> None:
        """Begin the calculation of one check, or of what several checks share.

        Values of the sections before remain in reach; a given or step of the same name replaces them from here on.
        """
        before = self._sections[-1].values if self._sections else {}
        name = check.title if check is not None else title
        where = check.where if check is not None else ""
        self._sections.append(_Section(title or name, where, values=dict(before)))

    @property
    def _now(self) -> _Section:
        if not self._sections:
            raise InputError.of("calculation", "no section", "a section before its first row")
        return self._sections[-1]

    def _declare(self, name: str, meaning: str, unit: str) -> None:
        known = self.symbols.setdefault(name, (meaning, unit))
        if known != (meaning, unit):
            allowed = f"its one meaning on the sheet, {known[0]} [{known[1]}]"
            raise InputError.of(f"symbol {name}", f"{meaning} [{unit}]", allowed)

    def _row(self, what: str, formula: str, values: str, result: str, source: str) -> None:
        row = {"what": what, "formula": formula, "numbers": values}
        self._now.rows.append(row | {"result": result, "source": source})

    def given(self, name: str, meaning: str, value: float, unit: str, source: str, *, detail: str = "") -> float:
        """A value that comes from the facts or from another table of the sheet.

        A value given again unchanged under the same name is not printed twice; *detail* says more
        of this row ("at the governing position"). A *unit* may name its decimals: "m.4".
        """
        value, (unit, digits) = float(value), _decimals(unit)
        self._declare(name, meaning, unit)
        text = printed(value, unit, digits)
        if self._now.values.get(name) == (value, text):
            return value
        self._now.values[name] = (value, text)
        what = meaning[0].upper() + meaning[1:] + (f", {detail}" if detail else "")
        self._row(what, symbol_text(name), "given", with_unit(text, unit), source)
        return value

    def step(self, name: str, meaning: str, expression: str, unit: str, source: str, *,
             value: float | None = None, detail: str = "",
             tolerance: float = 1e-6) -> float:  # fmt: skip
        """A calculated value: its formula, the formula with values, the result.

        A step that is the same as before, with the same values, is not printed twice.

        *expression* is Python of known symbols, numbers, + - * / ** and the functions sqrt, exp,
        ln, abs, min, max, sin, cos, tan, asin, acos, atan, atan2 (degrees). *value* is what the
        package used; where the recalculation is off by more than the relative *tolerance*, the row
        says so. A *unit* may name its decimals: "m.4".
        """
        unit, digits = _decimals(unit)
        tree = ast.parse(expression, mode="eval").body
        values = {key: number for key, (number, _) in self._now.values.items()}
        found = _evaluate(tree, values)
        used = found if value is None else float(value)
        self._declare(name, meaning, unit)
        text = printed(used, unit, digits)
        what = meaning[0].upper() + meaning[1:] + (f", {detail}" if detail else "")
        if not abs(found - used) <= tolerance * max(abs(used), abs(found)) + 1e-9:
            self.mismatches.append(f"{name} = {expression}: {found!r}, used {used!r}")
            source += _NOT_FOLLOWING
        formula = f"{symbol_text(name)} = {_render(tree, symbol_text)[0]}"
        texts = {key: shown for key, (_, shown) in self._now.values.items()}
        shown = _render(tree, lambda k: f"({texts[k]})" if texts[k][:1] == "−" else texts[k])[0]
        if shown == formula.partition(" = ")[2]:
            shown = "–"
        row = (what, formula, shown, with_unit(text, unit), source)
        again = self._now.values.get(name) == (used, text) and self._steps.get(name) == row
        self._now.values[name], self._steps[name] = (used, text), row
        if not again:
            self._row(*row)
        return used

    def facts(self, source: str = "", /, *, of: object = None, detail: object = "", **values: float) -> None:
        """Given values by their keys; *of*: what "#" of the row stands for."""
        for key, value in values.items():
            name, meaning, _, unit, where = _of(ROWS[key], of)
            self.given(name, meaning, value, unit, source or where, detail=str(detail))

    def steps(self, keys: str, /, *, of: object = None, detail: object = "", **values: float | None) -> None:
        """Steps by their keys, with what the package used of them."""
        for key in keys.split():
            self.work(key, of=of, detail=str(detail), value=values.pop(key, None))
        if values:
            raise InputError.of("values", ", ".join(values), f"of the steps {keys}")

    def work(self, key: str, formula: str = "", source: str = "", *, value: float | None = None,
             of: object = None, detail: str = "", tolerance: float = 1e-6) -> float:  # fmt: skip
        """One step by its key, by the formula and source of its case where they are stated."""
        name, meaning, usual, unit, where = _of(ROWS[key], of)
        return self.step(name, meaning, formula or usual, unit, source or where, value=value,
                         detail=detail, tolerance=tolerance)  # fmt: skip

    def value(self, name: str) -> float | None:
        """The value in reach under this name; None where there is none yet."""
        known = self._now.values.get(name)
        return None if known is None else known[0]

    def probe(self, expression: str) -> float:
        """What an expression gives with the values in reach; prints nothing."""
        values = {key: number for key, (number, _) in self._now.values.items()}
        return _evaluate(ast.parse(expression, mode="eval").body, values)

    def note(self, what: str, text: str, result: str = "", source: str = "") -> None:
        """A row in words: what was read where, and why the alternatives drop out."""
        self._row(what, text, "", result, source)

    def reaches(self, check: Check, value: str, limit: str) -> None:
        """The last row of a section: the check's value against its limit, by their symbols.

        Where a symbol's value is not what the check says, the row says so.
        """
        factor = _SI_FACTOR.get(check.quantity, {})
        source = check.reference
        for name, theirs in ((value, check.value), (limit, check.limit)):
            mine = self._now.values[name][0] * factor.get(self.symbols[name][1], 1.0)
            if theirs is None or not math.isclose(mine, theirs, rel_tol=1e-6, abs_tol=1e-9):
                self.mismatches.append(f"{check.id}: {name} = {mine!r}, the check says {theirs!r}")
                source += _NOT_FOLLOWING
        sign = "≤" if check.sense == "max" else "≥"
        shown = [amount(x, check.quantity) for x in (check.value or 0.0, check.limit or 0.0)]
        ratio = [symbol_text(value), symbol_text(limit)]
        if check.sense == "min":
            ratio.reverse()
            if (check.limit or 0.0) < 0:  # a limit below 0 uses nothing up
                ratio[0] = f"max({ratio[0]}, 0)"
        counted = check.utilisation is None or check.quantity == "count"
        used = "–" if counted else f"{100 * (check.utilisation or 0.0):.1f} %"
        free = check.sense == "min" and (check.limit or 0.0) <= 0.0  # nothing is used up
        self.reached[check.id] = used
        share = "" if counted or free else f"; utilisation {ratio[0]} / {ratio[1]}"
        self._row(check.title, f"{symbol_text(value)} {sign} {symbol_text(limit)}{share}",
                  f"{shown[0]} {sign} {shown[1]}",
                  f"{used}, {check.words}" if used != "–" else check.words, source)  # fmt: skip

    def ends(self, check: Check, value: str, limit: str, source: str = "", *,
             known: float | None = None, of: object = None) -> None:  # fmt: skip
        """The last two rows of a section: the limit, by its key, and the check's value against it.

        *known*: the limit as the facts have it, held against that of the check.
        """
        row, stated = ROWS[limit], (check.limit or 0.0) if known is None else known
        self.facts(source or row.source or check.reference, **{limit: stated}, of=of)
        self.reaches(check, value, _of(row, of)[0])

    def block(self, title: str = "Calculation") -> dict[str, Any]:
        """The calculation as a block of the sheet."""
        return {
            "kind": "calculation",
            "title": title,
            "lead": "In SI units, with full precision; printed with one digit more than the "
            "tables. Angles of sin, cos and tan are in degrees.",
            "columns": ["Quantity", "Formula", "Values", "Result", "Source"],
            "sections": [{"title": s.title, "where": s.where, "rows": s.rows} for s in self._sections],
            "symbols": [[symbol_text(s), meaning, unit or "–"] for s, (meaning, unit) in self.symbols.items()],
        }


_SI_FACTOR: dict[str, dict[str, float]] = {"ratio": {"%": 0.01}, "small_length_mm": {"m": 1000.0}}
"""What makes a symbol's value, by its unit, the value of a check of this quantity."""


def _of(row: PrintedRow, of: object) -> list[str]:
    """The texts of a row of one outrigger, sling leg or layer."""
    return list(row) if of is None else [text.replace("#", str(of)) for text in row]


def least_of(symbols: Sequence[str]) -> str:
    """Expression of the least of some."""
    return symbols[0] if len(symbols) == 1 else f"min({', '.join(symbols)})"


def printed(value: float, unit: str, digits: int | None = None) -> str:
    """A value as the calculation prints it, without its unit."""
    if not math.isfinite(value):
        return "∞" if value > 0 else "–"
    count = DIGITS.get(unit, 3) if digits is None else digits
    return f"{round(value, count) + 0.0:.{count}f}".replace("-", "−")


def _decimals(unit: str) -> tuple[str, int | None]:
    """Unit and decimals; "m.4" names both."""
    unit, _, count = unit.partition(".")
    return unit, int(count) if count else None


def with_unit(text: str, unit: str) -> str:
    """A printed value with its unit."""
    return f"{text}{'' if unit in ('', '°') else ' '}{unit}"


def _evaluate(node: ast.AST, values: Mapping[str, float]) -> float:
    match node:
        case ast.Constant(value=int() | float() as number):
            return float(number)
        case ast.Name(id=name) if name in values:
            return values[name]
        case ast.UnaryOp(op=ast.USub(), operand=one):
            return -_evaluate(one, values)
        case ast.BinOp(left=left, op=op, right=right):
            a, b = _evaluate(left, values), _evaluate(right, values)
            if isinstance(op, ast.Div):
                return a / b if b else math.nan
            if isinstance(op, ast.Pow):
                return float(a**b)
            return a + b if isinstance(op, ast.Add) else a - b if isinstance(op, ast.Sub) else a * b
        case ast.Call(func=ast.Name(id=name), args=arguments) if name in _FUNCTIONS:
            return _FUNCTIONS[name](*(_evaluate(x, values) for x in arguments))
    raise InputError.of("expression", ast.unparse(node), "numbers, given symbols and + - * / **")


def _render(node: ast.AST, say: Callable[[str], str]) -> tuple[str, int]:
    """Text of an expression and how strongly it holds together."""
    match node:
        case ast.Constant(value=int() | float() as number):
            return f"{number:g}", 9
        case ast.Name(id=name):
            return say(name), 9
        case ast.UnaryOp(operand=one):
            text, strength = _render(one, say)
            return f"−{text}" if strength > 2 else f"−({text})", 1
        case ast.BinOp(left=left, op=op, right=right):
            strength, sign = _STRENGTH[type(op)]
            a, holds_a = _render(left, say)
            b, holds_b = _render(right, say)
            if holds_a < strength or (isinstance(op, ast.Pow) and holds_a <= strength):
                a = f"({a})"
            if holds_b < strength or (holds_b == strength and not isinstance(op, ast.Add | ast.Mult)):
                b = f"({b})"
            return f"{a}{sign}{b}", strength
        case ast.Call(func=ast.Name(id="sqrt"), args=[one]):
            return f"√({_render(one, say)[0]})", 9
        case ast.Call(func=ast.Name(id="sin" | "cos" | "tan" as name), args=[one]):
            text, strength = _render(one, say)
            return f"{name} {text}" if strength == 9 else f"{name}({text})", 5
        case ast.Call(func=ast.Name(id=name), args=arguments):
            return f"{name}({', '.join(_render(x, say)[0] for x in arguments)})", 9
    raise InputError.of("expression", ast.unparse(node), "numbers, given symbols and + - * / **")
