"""How plain the sentences of a workbook are, by the grade of school that reads them.

``python tests/test_reading_level.py`` prints the mean and the hardest ones.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from statistics import mean

from pourtally.model import WORKINGS, Block
from shop import load_book

GRADE = 8.0
"""The grade that the mean may reach: what is written for everybody is held to it."""
HARDEST = 19.0
"""The grade of the hardest sentence: beyond it a longer one is two."""
SHORTEST = 6
"""Words below which what is said is a label and no sentence."""
MADE = (WORKINGS, "Basis")
"""Sheets whose words the program puts together from formulas."""
ENDS = (".", "!", "?")
SENTENCE = re.compile(r"(?<=[.!?])\s+")
WORD = re.compile(r"[A-Za-z][A-Za-z'’]*")
SILENT = re.compile(r"(?<=[^aeiouy])(?<!l)e$|(?<=[^aeiouysxzcgh])es$|(?<=[^aeiouytd])ed$")
VOWELS = re.compile(r"[aeiouy]+")


def syllables(word: str) -> int:
    """Return how many vowels sound in a word: one a group, but for an e at its end."""
    return max(1, len(VOWELS.findall(SILENT.sub("", word.lower()))))


def grade(sentence: str) -> float:
    """Return the grade of Kincaid and others, Research Branch Report 8-75, Navy, 1975."""
    words = WORD.findall(sentence)
    return 0.39 * len(words) + 11.8 * sum(map(syllables, words)) / len(words) - 15.59


def told(block: Block) -> Iterator[str]:
    """Yield what a block says in sentences: notes, words, checks, guide; no labels."""
    yield block.note
    yield from block.words
    for item in block.fields:
        yield item.note
        for part in item.parts:
            yield from (v for v in part.values if part.kind == "text" and isinstance(v, str))


def sentences() -> dict[str, float]:
    """Return every sentence that people read, with its grade."""
    book = load_book()
    texts = [s.intro for s in book.sheets]
    texts += [text for b in book.blocks if b.sheet not in MADE for text in told(b)]
    parts = {part for text in texts for part in SENTENCE.split(text) if part.endswith(ENDS)}
    return {p: grade(p) for p in sorted(parts) if len(WORD.findall(p)) >= SHORTEST}


def test_the_sentences_are_plain() -> None:
    graded = sentences()
    assert len(graded) > 500
    assert mean(graded.values()) <= GRADE
    assert {s: g for s, g in graded.items() if g > HARDEST} == {}


def test_words_are_taken_apart_as_they_sound() -> None:
    said = {"slab": 1, "the": 1, "finished": 2, "placement": 3, "edges": 2, "table": 2, "poured": 1}
    assert {w: syllables(w) for w in said} == said


if __name__ == "__main__":
    found = sentences()
    print(f"{len(found)} sentences, mean grade {mean(found.values()):.1f}")
    for words, at in sorted(found.items(), key=lambda one: -one[1])[:40]:
        print(f"{at:5.1f}  {words}")
