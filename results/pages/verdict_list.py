"""Verdicts as the items of a list, written out without a template: each takes dozens of look-ups there."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from django.utils.safestring import SafeString, mark_safe
from django.utils.text import slugify

from results.evidence import Verdict
from stats.inference.certainty import Certainty
from stats.inference.certainty_domains import Domain

STEPS = {0: "", 1: ": one step down"}


def items(verdicts: Iterable[Verdict], page_query: str) -> SafeString:
    """The verdicts in HTML.

    Parameters
    ----------
    verdicts : iterable of Verdict
    page_query : str
        The page's own parameters, for a link to each.
    """
    return mark_safe("\n".join(_item(one, escape(page_query)) for one in verdicts))


def _item(one: Verdict, query: str) -> str:
    name = f"of-{slugify(one.joint)}"
    thin = f" <strong>{escape(one.thin)}</strong>" if one.thin else ""
    invented = ' <span class="tag invented">invented</span>' if one.invented else ""
    copy = f'<button type="button" class="link" data-copy="{escape(one.whole)}" hidden>copy the sentence</button>'
    return (
        f'<li id="{name}"><p>{escape(one.sentence)}{thin}{invented}</p>{_graded(one, one.certainty)}'
        f'<p class="help"><a href="?{query}#{name}">link</a> {copy}</p></li>'
    )


def _graded(one: Verdict, certainty: Certainty | None) -> str:
    if certainty is None:
        return ""
    marks = "".join("●" if full else "○" for full in one.marks)
    return (
        f'<details><summary>Certainty: {certainty.level} <span class="steps-of" aria-hidden="true">{marks}</span>'
        f'</summary><dl class="reasons">{"".join(map(_reason, certainty.domains))}</dl></details>'
    )


def _reason(domain: Domain) -> str:
    steps = STEPS.get(domain.steps, f": {domain.steps} steps down")
    return f"<dt>{escape(domain.name[:1].upper() + domain.name[1:])}{steps}</dt><dd>{escape(domain.reason)}</dd>"
