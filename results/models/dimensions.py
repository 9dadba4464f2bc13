"""The dimensions of a joint: what its bonded area and section are computed from."""

from __future__ import annotations

from django.db import models


def _length(text: str) -> models.FloatField:
    return models.FloatField(text, null=True, blank=True)


class Dimensions(models.Model):
    """Every dimension a joint of the vocabulary may need; most joints need three or four of them."""

    member_thickness_mm = _length("member thickness, across the bending plane")
    member_depth_mm = _length("member depth, in the bending plane")
    other_thickness_mm = _length("thickness of the other member")
    other_depth_mm = _length("depth of the other member")
    bond_length_mm = _length("length of the glued face")
    bond_width_mm = _length("width of the glued face")
    tenon_length_mm = _length("tenon length")
    tenon_depth_mm = _length("tenon depth (its height, in the bending plane)")
    tenon_thickness_mm = _length("tenon thickness")
    haunch_length_mm = _length("haunch length")
    haunch_depth_mm = _length("haunch depth")
    fastener_diameter_mm = _length("dowel, pin or screw diameter")
    fastener_depth_mm = _length("dowel or screw depth in the weaker side")
    fastener_spacing_mm = _length("spacing of dowels or screws")
    fastener_edge_mm = _length("fastener on the compression side to the edge")
    slot_length_mm = _length("plate slot length")
    slot_depth_mm = _length("plate slot depth")
    spline_depth_mm = _length("spline depth in each part")
    groove_depth_mm = _length("groove or housing depth")
    tongue_thickness_mm = _length("tongue thickness")
    tenon_count = models.PositiveIntegerField("tenons", null=True, blank=True)
    fastener_count = models.PositiveIntegerField("dowels, plates, pins or screws", null=True, blank=True)
    finger_count = models.PositiveIntegerField("fingers, both parts together", null=True, blank=True)
    slope_deg = models.FloatField("slope of the dovetail, degrees", null=True, blank=True)
    scarf_ratio = models.FloatField("scarf slope, 8 for 1:8", null=True, blank=True)

    class Meta:
        abstract = True

    def dims(self) -> dict[str, float]:
        """The dimensions that were given, by name."""
        return {name: getattr(self, name) for name in DIMS if getattr(self, name) is not None}


DIMS: tuple[str, ...] = tuple(field.name for field in Dimensions._meta.local_fields)
