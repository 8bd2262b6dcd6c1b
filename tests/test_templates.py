"""Every template compiles, every text in it can be translated, and none breaks the page's policy.

The small reader below takes a template apart without Django: what is left of it once tags,
variables, comments, scripts, styles and markup are gone is text that nobody can translate.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.template.loader import get_template

ROOT = Path(settings.TEMPLATES[0]["DIRS"][0])
NAMES = sorted(str(path.relative_to(ROOT)) for path in ROOT.rglob("*.html"))
PRINTED = [name for name in NAMES if name.endswith(("_pdf.html", "print_head.html"))]
# Shown when nothing else works, translation included.
PLAIN = {"500.html"}
# Names and symbols of units, not words.
SAME_EVERYWHERE = {"Charline", "PDF", "min", "s"}

BLOCK = re.compile(r"{%\s*blocktranslate.*?%}.*?{%\s*endblocktranslate\s*%}", re.S)
DROPPED = (
    re.compile(r"{%\s*comment.*?endcomment\s*%}", re.S),
    BLOCK,
    re.compile(r"{%\s*block page_class\s*%}.*?{%\s*endblock\s*%}", re.S),  # a class of the page
    re.compile(r"{#.*?#}", re.S),
    re.compile(r"{%.*?%}", re.S),
    re.compile(r"{{.*?}}", re.S),
    re.compile(r"<!--.*?-->|<!doctype[^>]*>", re.S | re.I),
    re.compile(r"<(script|style)\b.*?</\1>", re.S | re.I),
)
READ_ALOUD = re.compile(r"""\s(?:title|alt|placeholder|aria-label)=("[^"]*"|'[^']*')""", re.I)
TAG = re.compile(r"""<(?:[^<>"']|"[^"]*"|'[^']*')*>""", re.S)
ENTITY = re.compile(r"&#?\w+;")


def untranslated(source: str) -> list[str]:
    """The words of a template that no translation reaches."""
    for pattern in DROPPED:
        source = pattern.sub(" ", source)
    spoken = " ".join(READ_ALOUD.findall(source))
    left = ENTITY.sub(" ", f"{TAG.sub(' ', source)} {spoken}")
    words = re.findall(r"[^\W\d_]+", left)
    return [word for word in words if word not in SAME_EVERYWHERE]


@pytest.mark.parametrize(
    ("source", "left"),
    [
        ("<p>Hello</p>", ["Hello"]),
        ("{% translate 'Hello' %} {{ name }} · Charline", []),
        ("{% blocktranslate with a=b %}Hello {{ a }}{% endblocktranslate %}", []),
        ('<a title="Close it">{{ x }}</a>', ["Close", "it"]),
        ('<a href="/x" class="button">{{ x }}</a>', []),
        ('<a title="{% translate "Close" %}"{% if y %} class="on"{% endif %}>×</a>', []),
        ("<script>let words = 'here'</script><style>p { color: red }</style>", []),
        ("{# a note #}{% comment %}another{% endcomment %}&nbsp;12", []),
        ("{% if a > b %}yes{% endif %}", ["yes"]),
    ],
)
def test_the_reader_finds_what_is_untranslated_and_nothing_else(source, left):
    assert untranslated(source) == left


def test_there_are_templates():
    assert len(NAMES) > 50


@pytest.mark.parametrize("name", NAMES)
def test_every_template_compiles(name):
    assert get_template(name)


@pytest.mark.parametrize("name", [name for name in NAMES if name not in PLAIN])
def test_every_word_of_a_template_can_be_translated(name):
    assert untranslated((ROOT / name).read_text()) == []


@pytest.mark.parametrize("name", [name for name in NAMES if name not in PRINTED])
def test_no_page_carries_styles_or_handlers_of_its_own(name):
    """The content policy allows neither; paper has no such policy."""
    source = (ROOT / name).read_text()
    assert re.findall(r"\sstyle\s*=", source) == []
    assert re.findall(r"\son[a-z]+\s*=\s*[\"']", source) == []
    assert re.findall(r"<style|<script(?![^>]*\ssrc=)|javascript:", source, re.I) == []
