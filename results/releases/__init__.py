"""Releases: dated snapshots of all accepted studies, written once and never changed.

`make` writes one; `shelf` finds releases and their files again; `tables` and `words` say which columns they have.
"""

from .make import Made, ReleaseError, make

__all__ = ["Made", "ReleaseError", "make"]
