"""Backups: the whole book in one file, and a book put back from one.

`take` writes one, `restore` puts one back; `archive` says what a file looks like and refuses one that isn't whole.
"""

from .errors import BackupError
from .put_back import Restored, restore
from .write import Taken, take

__all__ = ["BackupError", "Restored", "Taken", "restore", "take"]
