"""How many requests a reader may make in a minute, told in every answer."""

from __future__ import annotations

import time
from typing import Any

from django.conf import settings
from django.core.cache import caches
from rest_framework.request import Request
from rest_framework.throttling import BaseThrottle

WINDOW_S = 60


class Allowance(BaseThrottle):
    """So many requests in each minute of the clock, by address; more with a token or a session, by user.

    Counts are kept by the process, so that the limits are what one process of the server answers; with a shared cache
    (``CACHE_URL``) they are what all processes of all machines answer together.
    """

    def __init__(self) -> None:
        self.limit, self.left, self.reset_s = 0, 0, WINDOW_S
        self.policy = ""

    def allow_request(self, request: Request, view: Any) -> bool:
        user = getattr(request, "user", None)
        if user is not None and user.is_authenticated:
            return self.take("token", f"user {user.pk}", settings.API_TOKEN_PER_MINUTE)
        return self.take_anonymous(request)

    def take_anonymous(self, request: Request) -> bool:
        """Count one request of somebody unknown."""
        return self.take("anonymous", f"address {self.get_ident(request)}", settings.API_ANONYMOUS_PER_MINUTE)

    def take(self, policy: str, who: str, limit: int) -> bool:
        """Count one request; whether it is within the limit."""
        now = time.time()
        window = int(now // WINDOW_S)
        key = f"allowance {window} {who}".replace(" ", ":")
        cache = caches[settings.COUNTED_IN]
        cache.add(key, 0, WINDOW_S + 5)
        try:
            count = cache.incr(key)
        except ValueError:  # thrown out of the cache in between
            count = 1
        self.policy, self.limit = policy, limit
        self.left = max(limit - count, 0)
        self.reset_s = max(int((window + 1) * WINDOW_S - now), 1)
        return count <= limit

    def wait(self) -> float:
        return self.reset_s

    @property
    def headers(self) -> dict[str, str]:
        """The fields of the IETF's draft on rate limits: the policy, and what is left of it."""
        if not self.policy:
            return {}
        return {
            "RateLimit-Policy": f'"{self.policy}";q={self.limit};w={WINDOW_S}',
            "RateLimit": f'"{self.policy}";r={self.left};t={self.reset_s}',
        }
