"""The material's tone: concrete is dark while wet and goes pale as it cures and dries."""

from __future__ import annotations

WET, DRY = (0x4A, 0x4E, 0x4D), (0xD6, 0xD2, 0xC8)


def colour(level: float) -> str:
    """Of a level from 0 (wet) to 1 (dry, cured)."""
    level = min(1.0, max(0.0, level))
    parts = (round(wet + level * (dry - wet)) for wet, dry in zip(WET, DRY, strict=True))
    return "#" + "".join(f"{part:02x}" for part in parts)
