"""Who asks: somebody with a token, somebody signed in to the site, or anybody."""

from __future__ import annotations

import re
from typing import Any

from rest_framework.authentication import TokenAuthentication
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

_KEY = re.compile(r"[0-9a-f]{40}")


class BearerToken(TokenAuthentication):
    """``Authorization: Bearer <token>``; other schemes are somebody else's, a proxy's say, and are passed over."""

    keyword = "Bearer"

    def authenticate(self, request: Request) -> tuple[Any, Any] | None:
        scheme, _, key = request.headers.get("Authorization", "").strip().partition(" ")
        if scheme.lower() not in ("bearer", "token"):
            return None
        if not _KEY.fullmatch(key.strip()):
            raise AuthenticationFailed("The token is not one: it has 40 signs, 0 to 9 and a to f.")
        return self.authenticate_credentials(key.strip())

    def authenticate_credentials(self, key: str) -> tuple[Any, Any]:
        try:
            return super().authenticate_credentials(key)
        except AuthenticationFailed:
            raise AuthenticationFailed("The token is not known, or its user may no longer sign in.") from None
