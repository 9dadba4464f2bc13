"""What goes wrong with a backup."""

from __future__ import annotations


class BackupError(RuntimeError):
    """Why no backup can be written, or why one can't be put back; nothing was changed."""
