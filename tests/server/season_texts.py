"""The season's report as text: of a page, and of the command."""

from __future__ import annotations

import html
import re

import pytest

from server.command import main


def run(capsys: pytest.CaptureFixture[str], *words: object) -> str:
    assert main(["season", *(str(word) for word in words)]) == 0
    return capsys.readouterr().out


def plain(text: str) -> str:
    """The words of a page."""
    bare = re.sub(r"<(style|head).*?</\1>", " ", text, flags=re.DOTALL)
    words = html.unescape(re.sub(r"<[^>]+>", " ", bare)).replace("\u00a0", " ")
    return re.sub(r"\s+", " ", words)


def sentences(page: str) -> list[str]:
    """The report's sentences as the page has them."""
    text = page.partition('<article class="season">')[2].partition('<section class="part"')[0]
    return [
        html.unescape(found).replace("\u00a0", " ")
        for found in re.findall(r"<(?:p|li)>(.*?)</(?:p|li)>", text)
    ]
