"""How wide a page in a browser is, once its figures have taken the width of the window."""

import time

WITHIN_S = 60


def width_beyond(page, width):
    """Pixels that the page is wider than its window; figures are drawn anew a moment after the window has changed."""
    until_s = time.monotonic() + WITHIN_S
    # not wait_for_function: a page that forbids eval forbids it too
    while (beyond := page.evaluate("document.documentElement.scrollWidth") - width) > 0 and time.monotonic() < until_s:
        page.wait_for_timeout(50)
    return max(beyond, 0)
