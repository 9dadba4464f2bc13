"""How large things may be, and how large they usually are."""

from __future__ import annotations

from dataclasses import dataclass

from results.models.constraints import LARGEST

SETUPS_MOST = 100
SERIES_MOST = 500
SPECIMENS_MOST = 100_000
TEXT_LONGEST = 5_000


@dataclass(frozen=True)
class Range:
    """Values a field may take, and those that are usual, in SI.

    Parameters
    ----------
    low, high : float
        The field must lie between these.
    open_low : bool
        Whether `low` itself is refused, as zero is for a length.
    usual : (float, float) or None
        Outside of this a slip of the unit is likelier than the value. Our own bounds, for a wood shop.
    """

    low: float = 0.0
    high: float = LARGEST
    open_low: bool = True
    usual: tuple[float, float] | None = None

    def holds(self, value: float) -> bool:
        return (self.low < value if self.open_low else self.low <= value) and value <= self.high

    def words(self, unit: str) -> str:
        """What would be right: ``above 0 mm``, ``0 to 100 %``."""
        if self.high >= LARGEST:
            return f"{'above' if self.open_low else 'at least'} {self.low:g} {unit}".strip()
        if self.open_low:
            return f"above {self.low:g} and at most {self.high:g} {unit}".strip()
        return f"{self.low:g} to {self.high:g} {unit}".strip()


_RIG = (20.0, 4_000.0)
_MEMBER = (4.0, 400.0)
_PART = (1.0, 400.0)
_FASTENER = (1.5, 40.0)

# Text columns of the database hold whole numbers up to these.
_SMALL_COUNT = 1_000.0
_COUNT = 1e6

RANGES: dict[str, Range] = {
    "arm_mm": Range(usual=_RIG),
    "span_mm": Range(usual=_RIG),
    "load_offset_mm": Range(usual=_RIG),
    "joint_offset_mm": Range(usual=_RIG),
    "leg_mm": Range(usual=_RIG),
    "leg_b_mm": Range(usual=_RIG),
    "face_offset_mm": Range(high=1e6, open_low=False),
    "rail_height_mm": Range(usual=(50.0, 4_000.0)),
    "ram_diameter_mm": Range(usual=(8.0, 250.0)),
    "lever_ratio": Range(usual=(0.05, 50.0)),
    "angle_deg": Range(low=-89, high=89, open_low=False),
    "diagonal_deg": Range(high=89, open_low=False),
    "friction": Range(high=0.99, open_low=False),
    "frame_count": Range(low=1, high=_SMALL_COUNT, open_low=False),
    "shear_faces": Range(low=1, high=2, open_low=False),
    "rate_mm_min": Range(usual=(0.05, 2_000.0)),
    "member_thickness_mm": Range(usual=_MEMBER),
    "member_depth_mm": Range(usual=_MEMBER),
    "other_thickness_mm": Range(usual=_MEMBER),
    "other_depth_mm": Range(usual=_MEMBER),
    "bond_length_mm": Range(usual=_MEMBER),
    "bond_width_mm": Range(usual=_MEMBER),
    "tenon_length_mm": Range(usual=(4.0, 300.0)),
    "tenon_depth_mm": Range(usual=_MEMBER),
    "tenon_thickness_mm": Range(usual=(2.0, 100.0)),
    "fastener_diameter_mm": Range(usual=_FASTENER),
    "tenon_count": Range(low=1, high=_SMALL_COUNT, open_low=False, usual=(1, 10)),
    "fastener_count": Range(low=1, high=_SMALL_COUNT, open_low=False, usual=(1, 20)),
    "finger_count": Range(low=1, high=_SMALL_COUNT, open_low=False, usual=(1, 60)),
    "slope_deg": Range(high=89),
    "scarf_ratio": Range(high=100, usual=(1, 20)),
    "moisture_pct": Range(high=200, open_low=False, usual=(3, 40)),
    "density_kgm3": Range(usual=(80, 1_400)),
    "cure_hours": Range(high=1e6, usual=(0.1, 20_000)),
    "wood_failure_pct": Range(high=100, open_low=False),
    "cycles": Range(low=0, high=1e9, open_low=False),
    "n": Range(low=1, high=_COUNT, open_low=False, usual=(1, 500)),
}
_OTHER = {"length": Range(usual=_PART), "count": Range(low=1, high=_COUNT, open_low=False)}


def range_of(field: str, kind: str) -> Range:
    """The range of a field; by its kind if the field has none of its own."""
    return RANGES.get(field) or _OTHER.get(kind) or Range()
