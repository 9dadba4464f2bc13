"""Whether a reader holds the answer already: tags that change with the data, the code, the reader and the format."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import UTC, datetime

from django.http import HttpRequest
from django.utils import timezone
from django.utils.http import http_date, parse_etags, parse_http_date_safe
from rest_framework.request import Request

from results.kept import code, state_of
from results.models import DataVersion, data_version


@dataclass(frozen=True)
class Validators:
    """What a reader may ask with whether an answer has changed.

    Parameters
    ----------
    etag : str
        Weak: a page may be compressed on its way.
    modified : int or None
        Seconds since 1970; None where a time can't tell: the answer is somebody's own, or the change is of this
        very second and another may follow in it.
    state : str
        What the answer is made from: the data and the program.
    """

    etag: str
    modified: int | None
    state: str

    @classmethod
    def of(cls, request: Request, form: str) -> Validators:
        version = data_version()
        user = request.user.pk if request.user.is_authenticated else ""
        state = state_of(version)
        about = f"{state} {user} {form} {request.get_full_path()}"
        etag = f'W/"{version.number}-{hashlib.sha256(about.encode()).hexdigest()[:20]}"'
        modified = int(max(version.changed_at.timestamp(), code().newest))
        told = user == "" and modified < int(timezone.now().timestamp())
        return cls(etag, modified if told else None, state)

    @property
    def headers(self) -> dict[str, str]:
        dated = {} if self.modified is None else {"Last-Modified": http_date(self.modified)}
        return {"ETag": self.etag, **dated}

    def held_by(self, request: HttpRequest) -> bool:
        """Whether the reader holds this answer; the tag decides where one is sent (RFC 9110, 13.2.2)."""
        if tags := request.headers.get("If-None-Match"):
            return self.etag in parse_etags(tags)
        since = parse_http_date_safe(request.headers.get("If-Modified-Since", ""))
        return since is not None and self.modified is not None and self.modified <= since


def moment(version: DataVersion) -> str:
    """When the data last changed, as files say it."""
    changed: datetime = version.changed_at
    return changed.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
