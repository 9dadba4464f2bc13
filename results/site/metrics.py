"""Counts and times of `results.measured` as Prometheus reads them, for those who may."""

from __future__ import annotations

import ipaddress
import os
from collections.abc import Iterator, Sequence

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.db import Error
from django.http import HttpRequest, HttpResponse
from django.utils.crypto import constant_time_compare
from prometheus_client import CONTENT_TYPE_LATEST, REGISTRY, CollectorRegistry, generate_latest
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.multiprocess import MultiProcessCollector

Network = ipaddress.IPv4Network | ipaddress.IPv6Network
TOKEN_LEAST = 16


def networks(name: str, given: Sequence[str]) -> list[Network]:
    """Addresses and networks from a setting; one that can't be read stops the start."""
    found = []
    for one in given:
        try:
            found.append(ipaddress.ip_network(one))
        except ValueError as error:
            raise ImproperlyConfigured(f"{name}: {one!r} is no address and no network: {error}.") from None
    return found


def token(name: str, given: str) -> str:
    """A token from a setting; one that could be guessed stops the start."""
    if given and (len(given) < TOKEN_LEAST or not given.isascii() or given.split() != [given]):
        raise ImproperlyConfigured(f"{name} can't be used: it needs at least {TOKEN_LEAST} letters, without spaces.")
    return given


def metrics(request: HttpRequest) -> HttpResponse | None:
    """For whoever has the token or comes from an allowed address; for others None, as if nothing were there."""
    if not may_read(request):
        return None
    registry: CollectorRegistry = REGISTRY
    if os.environ.get("PROMETHEUS_MULTIPROC_DIR"):
        registry = CollectorRegistry()
        MultiProcessCollector(registry)
    text = generate_latest(registry) + generate_latest(_BOOK)
    return HttpResponse(text, content_type=CONTENT_TYPE_LATEST, headers={"Cache-Control": "no-store"})


def may_read(request: HttpRequest) -> bool:
    """Whether somebody may read the counts."""
    scheme, _, given = request.META.get("HTTP_AUTHORIZATION", "").partition(" ")
    if settings.METRICS_TOKEN and scheme.lower() == "bearer":
        return constant_time_compare(given.strip(), settings.METRICS_TOKEN)
    try:
        address = ipaddress.ip_address(_address(request))
    except ValueError:
        return False
    return any(address in network for network in settings.METRICS_ALLOWED)


def _address(request: HttpRequest) -> str:
    """Who asks: behind a proxy the last address that it added; whoever came past it has none."""
    forwarded = request.META.get("HTTP_X_FORWARDED_FOR", "") if settings.BEHIND_PROXY else ""
    return (forwarded.rpartition(",")[2] or request.META.get("REMOTE_ADDR", "")).strip()


class _Book:
    """How much the book holds, looked up when it is asked for and kept as long as nothing changes."""

    def collect(self) -> Iterator[GaugeMetricFamily]:
        from results.evidence import stock

        try:
            held = stock.held()
        except Error:
            held = {}  # a database that is away is told by its absence, and by /health/ready
        family = GaugeMetricFamily("breakbook_book", "What the book holds, of what is accepted.", labels=["of"])
        for name, number in held.items():
            family.add_metric([name], number)
        yield family


_BOOK = CollectorRegistry(auto_describe=False)
_BOOK.register(_Book())
