"""What people typed, made fit for a page."""

from __future__ import annotations

import html
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from results.templatetags.typed import typed


def link(address):
    shown = html.escape(address)
    return f'<a href="{shown}" rel="nofollow noopener ugc">{shown}</a>'


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("plain", "plain"),
        ("a\nb\r\nc", "a<br>b<br>c"),
        ("<b>&\"'", "&lt;b&gt;&amp;&quot;&#x27;"),
        ("see https://example.org/a?b=1&c=2.", f"see {link('https://example.org/a?b=1&c=2')}."),
        ("(https://example.org/a_(b))", f"({link('https://example.org/a_(b)')})"),
        ("HTTP://EXAMPLE.ORG!", f"{link('HTTP://EXAMPLE.ORG')}!"),
        ("https://a.example,https://b.example", link("https://a.example,https://b.example")),
        ("“https://example.org”", f"“{link('https://example.org')}”"),
        ("https://example.org/\nnext", f"{link('https://example.org/')}<br>next"),
    ],
)
def test_typed_keeps_text_as_text_and_links_addresses(text, shown):
    assert typed(text) == shown


@pytest.mark.parametrize(
    "text",
    [
        "javascript:alert(1)",
        "data:text/html,x",
        "ftp://example.org",
        "www.example.org",
        "me@example.org",
        "https://",
        "https://...",
        "https://[bad",
        "https://bank.example@evil.example/",
    ],
)
def test_typed_makes_no_link_of_anything_else(text):
    assert "<a" not in typed(text)


def test_typed_ends_an_address_before_what_could_disguise_it():
    assert typed('https://example.org/"onmouseover="x') == f"{link('https://example.org/')}&quot;onmouseover=&quot;x"
    assert link("https://example.org/") in typed("https://example.org/\u202egpj.exe")


@given(st.text(alphabet=st.sampled_from("ht ps:/.@<>&\"'()ab\n\u202e"), max_size=60))
def test_typed_holds_no_markup_but_its_own_and_loses_nothing(text):
    made = str(typed(f"https://x.example {text}"))

    assert re.sub(r'<a href="https?://[^"<>]*" rel="nofollow noopener ugc">|</a>|<br>', "", made).count("<") == 0
    bare = html.unescape(re.sub(r"<[^>]*>", "", made.replace("<br>", "\n")))
    assert bare == f"https://x.example {text}"
