"""Words and wood: what a record may say, each row with its source."""

from __future__ import annotations

from functools import cached_property

from django.db import models
from django.urls import reverse

from stats.footing.timber import Timber as WoodProperties

from .constraints import one_of


class Word(models.Model):
    """A vocabulary row: a code that never changes, a name to read, a source."""

    code = models.SlugField(primary_key=True, max_length=60)
    name = models.CharField(max_length=120)
    description = models.TextField(blank=True)
    source = models.TextField(help_text="Where the row comes from.")
    position = models.PositiveIntegerField(default=0)

    class Meta:
        abstract = True
        ordering = ["position", "code"]

    def __str__(self) -> str:
        return self.name


class JointFamily(Word):
    class Meta(Word.Meta):
        verbose_name_plural = "joint families"


class Joint(Word):
    """A kind of joint, and what its bonded area and section are computed from."""

    family = models.ForeignKey(JointFamily, on_delete=models.PROTECT, related_name="joints")
    also_known_as = models.CharField(max_length=200, blank=True)
    area_rule = models.CharField(max_length=40, blank=True)
    section_rule = models.CharField(max_length=40, blank=True)
    needs_dims = models.CharField(max_length=300, blank=True, help_text="Dimensions the rules need.")
    optional_dims = models.CharField(max_length=300, blank=True)
    is_control_kind = models.BooleanField(default=False, help_text="Usual as a control: solid, butt.")
    provenance = models.CharField(max_length=200, blank=True)

    @property
    def dims(self) -> list[str]:
        """All dimensions that say something about this joint, the needed ones first."""
        return list(dict.fromkeys((self.needs_dims + " " + self.optional_dims).split()))


class Loading(Word):
    """A loading arrangement: what the joint feels, and which lengths that takes."""

    ACTIONS = [
        ("bending", "bending moment"),
        ("axial", "axial force"),
        ("shear", "shear"),
        ("torsion", "torsion"),
    ]
    action = models.CharField(max_length=10, choices=ACTIONS)
    needs = models.CharField(max_length=300, blank=True)
    optional = models.CharField(max_length=300, blank=True)
    formula = models.CharField(max_length=300)
    provenance = models.CharField(max_length=200, blank=True)

    class Meta(Word.Meta):
        constraints = [one_of("action", ["bending", "axial", "shear", "torsion"])]


class Instrument(Word):
    """What the load was read on, and what kind of number it shows."""

    reads = models.CharField(max_length=10, help_text="Kind of quantity shown: force, pressure or moment.")
    needs = models.CharField(max_length=200, blank=True)
    accuracy = models.CharField(max_length=200, blank=True)
    provenance = models.CharField(max_length=200, blank=True)


class AdhesiveClass(Word):
    """A class of glue by its chemistry, with an EN 204 durability class where it has one."""

    en204 = models.CharField("EN 204 class", max_length=10, blank=True)
    provenance = models.CharField(max_length=200, blank=True)

    class Meta(Word.Meta):
        verbose_name_plural = "adhesive classes"


class FailurePlace(Word):
    """Where a joint broke; says nothing of how much it took."""


class Timber(Word):
    """A timber with its clear-wood properties, green and at 12 % moisture, cited to a table."""

    scientific_name = models.CharField(max_length=120, blank=True)
    group = models.CharField(max_length=10, choices=[("hardwood", "hardwood"), ("softwood", "softwood")])
    sg_12 = models.FloatField(null=True, help_text="Ovendry mass over volume at 12 % (imports: green volume).")
    sg_green = models.FloatField(null=True)
    mor_12_mpa = models.FloatField("modulus of rupture at 12 %, MPa", null=True)
    mor_green_mpa = models.FloatField("modulus of rupture green, MPa", null=True)
    shear_12_mpa = models.FloatField("shear parallel to grain at 12 %, MPa", null=True)
    shear_green_mpa = models.FloatField("shear parallel to grain green, MPa", null=True)
    tension_perp_12_mpa = models.FloatField("tension across the grain at 12 %, MPa", null=True)
    tension_perp_green_mpa = models.FloatField("tension across the grain green, MPa", null=True)
    comp_parallel_12_mpa = models.FloatField("compression along the grain at 12 %, MPa", null=True)
    comp_parallel_green_mpa = models.FloatField("compression along the grain green, MPa", null=True)
    comp_perp_12_mpa = models.FloatField("compression across the grain at 12 %, MPa", null=True)
    comp_perp_green_mpa = models.FloatField("compression across the grain green, MPa", null=True)
    moe_12_gpa = models.FloatField("modulus of elasticity at 12 %, GPa", null=True)
    moe_green_gpa = models.FloatField("modulus of elasticity green, GPa", null=True)
    hardness_12_n = models.FloatField("side hardness at 12 %, N", null=True)
    hardness_green_n = models.FloatField("side hardness green, N", null=True)
    intersection_mc_pct = models.FloatField("moisture where strength stops changing, %", default=25)
    source_green = models.TextField(blank=True)
    provenance = models.CharField(max_length=200)
    shrink_radial_per_pct = models.FloatField("radial change coefficient, per % moisture", null=True)
    shrink_tangential_per_pct = models.FloatField("tangential change coefficient, per % moisture", null=True)
    shrink_source = models.TextField(blank=True)
    shrink_provenance = models.CharField(max_length=200, blank=True)

    class Meta(Word.Meta):
        ordering = ["name"]
        constraints = [one_of("group", ["hardwood", "softwood"])]

    def get_absolute_url(self) -> str:
        return reverse("browse:timber", args=[self.code])

    @cached_property
    def wood(self) -> WoodProperties:
        """The same properties as the numeric code takes them."""
        names = WoodProperties.__dataclass_fields__
        return WoodProperties(**{name: getattr(self, name) for name in names})
