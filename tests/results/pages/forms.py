"""A filled-in form as a browser sends it, and what an answered one holds."""

from __future__ import annotations

import html
import re
import uuid
from typing import Any

from django.urls import reverse

STUDY = {
    "study-title": "Rails into posts",
    "study-question": "Which joint takes more?",
    "study-workshop": "Shop by the river",
    "study-licence": "CC0-1.0",
    "study-length_unit": "mm",
}
RIG = {
    "setup-loading": "cantilever_arm",
    "setup-instrument": "luggage_scale",
    "setup-reading_unit": "kg",
    "setup-arm": "300",
}
SHARED = {
    "shared-timber": "Oak, northern red",
    "shared-adhesive": "pva",
    "shared-moisture": "8",
    "shared-member_thickness": "20",
    "shared-member_depth": "40",
}
BUTT = {"series-0-series": "Butt", "series-0-joint": "butt", "series-0-rows": "6"}
TENON = {
    "series-1-series": "Tenon",
    "series-1-joint": "mt_blind",
    "series-1-tenon_length": "30",
    "series-1-tenon_depth": "30",
    "series-1-control": "0",
    "series-1-rows": "6",
}


def readings(at, values):
    return {f"specimen-{at}-{row}-reading": value for row, value in enumerate(values)}


def form(**changes):
    data = {"key": str(uuid.uuid4()), "series-count": "2", **STUDY, **RIG, **SHARED, **BUTT, **TENON}
    data |= readings(0, ["40", "42", "39", "41"]) | readings(1, ["118", "120", "125", "131"])
    data |= {f"specimen-{at}-{row}-outcome": "broke" for at in (0, 1) for row in range(6)}
    return data | {name.replace("__", "-"): value for name, value in changes.items()}


def values_of(page) -> dict[str, str]:
    """What the inputs of a page hold, by name."""
    text = page.content.decode()
    found = {}
    for tag in re.findall(r"<input[^>]*>", text):
        name, value = re.search(r'name="([^"]*)"', tag), re.search(r'value="([^"]*)"', tag)
        if name and ("radio" not in tag or " checked" in tag):
            found[name[1]] = html.unescape(value[1]) if value else ""
    for name, value in re.findall(r'<textarea[^>]*name="([^"]*)"[^>]*>\n(.*?)</textarea>', text, re.DOTALL):
        found[name] = html.unescape(value)
    for name, options in re.findall(r'<select[^>]*name="([^"]*)"[^>]*>(.*?)</select>', text, re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', options)
        found[name] = html.unescape(chosen[1]) if chosen else ""
    return found


def post(client, data, do="check"):
    """Send a form, as the page that was answered last with its key would: that page has seen the newest version."""
    seen = client.__dict__.setdefault("seen_versions", {})
    page = client.post(reverse("submit:form"), {"version": seen.get(data.get("key"), 0), **data, "do": do})
    if page.context and "version" in page.context and "shown" in page.context:
        seen[str(page.context["shown"].typed.key)] = page.context["version"]
    return page


def save(client, data) -> Any:
    """Look at it, then save it; the answer to the look if that offers no saving."""
    page = post(client, data)
    return post(client, {**data, "seen": page.context["seen"]}, "save") if page.status_code == 200 else page
