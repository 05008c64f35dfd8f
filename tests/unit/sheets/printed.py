"""What stands on a printed page, line by line, and in letters of what size."""

import math

LEAST_POINTS = 7.0
"""Smaller letters need a glass."""


def lines_of(page):
    """Each line of a page as (height above the foot, points of its largest letters, words), from the top down."""
    found = {}

    def seen(text, cm, tm, _, size):
        if text.strip():
            height = tm[4] * cm[1] + tm[5] * cm[3] + cm[5]
            scale = math.hypot(tm[0] * cm[0] + tm[1] * cm[2], tm[0] * cm[1] + tm[1] * cm[3])
            points, words = found.get(round(height), (0.0, ""))
            found[round(height)] = (max(points, size * scale), f"{words} {text.strip()}".strip())
            assert size * scale >= LEAST_POINTS - 0.01, (text, size * scale)

    page.extract_text(visitor_text=seen)
    return [(height, *found[height]) for height in sorted(found, reverse=True)]
