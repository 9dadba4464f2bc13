"""Invented books of any size, to try a site and to measure it: studies that nobody made, and that say so."""

from .make import Made, RealStudies, make

__all__ = ["Made", "RealStudies", "make"]
