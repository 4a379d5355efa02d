"""How many brews at each of two settings would show a difference between them."""

from __future__ import annotations

import math

Z_TWO_SIDED_95 = 1.959964
Z_FOUR_OF_FIVE = 0.841621
"""Normal quantiles: of the test (5 %, two-sided), and of the share of trials that show the difference (0.8)."""


def brews_at_each_setting(scatter: float, difference: float) -> int:
    """Brews at each of two settings so that four trials of five show `difference`, tested at 5 %, two-sided.

    `scatter` is the standard deviation between like brews, in the same unit. Normal formula with Guenther's (1981)
    correction for the t test, within one brew of the exact answer; at least 3.

    >>> brews_at_each_setting(0.5, 0.5), brews_at_each_setting(1.0, 0.5)
    (17, 64)
    """
    plain = 2 * ((Z_TWO_SIDED_95 + Z_FOUR_OF_FIVE) * scatter / difference) ** 2
    return max(3, math.ceil(plain + Z_TWO_SIDED_95**2 / 4))
