"""Blocks of a drawing, not yet exploded: none holds itself, none explodes without end."""

from typing import Any

from liftcalc.base.errors import InputError
from liftcalc.facts.limits import MOST_ENTITIES

MOST_DEEP = 32
"""Blocks within blocks."""


def require_explodable(document: Any, *, source: str) -> None:
    """Refuse a drawing whose block references in model space cannot all be exploded.

    Raises: A block that holds itself, directly or by others; more blocks within blocks than
      :data:`MOST_DEEP`; more entities than ``MOST_ENTITIES``.
    """
    known: dict[str, tuple[int, int]] = {}

    def size(entities: Any, chain: tuple[str, ...]) -> tuple[int, int]:
        """Entities that these explode to, and how deep the blocks among them reach."""
        total, deep = 0, 0
        for entity in entities:
            if entity.dxftype() != "INSERT":
                total += 1
                continue
            name = str(entity.dxf.get("name", ""))
            key = name.casefold()
            if key in chain:
                way = " in ".join([key, *reversed(chain[chain.index(key) :])])
                raise InputError.of("block", way, "a block that does not hold itself",
                                    "Correct the block in the drawing.", source=source)  # fmt: skip
            if key not in known:
                if len(chain) >= MOST_DEEP:
                    raise _too_deep(chain[0], source)
                block = document.blocks.get(name)
                known[key] = size(block if block is not None else (), (*chain, key))
            count, below = known[key]
            deep = max(deep, below + 1)
            if len(chain) + deep > MOST_DEEP:
                raise _too_deep(chain[0] if chain else name, source)
            total += max(int(entity.mcount), 1) * max(count, 1)
        return total, deep

    total, _ = size(document.modelspace(), ())
    if total > MOST_ENTITIES:
        raise InputError.of(
            "block references", f"{total:,} entities once exploded", f"at most {MOST_ENTITIES:,}",
            "Save only the layers that are needed, or explode the drawing's blocks there.", source=source,
        )  # fmt: skip


def _too_deep(name: str, source: str) -> InputError:
    return InputError.of("block", name, f"at most {MOST_DEEP} blocks within blocks", source=source)
