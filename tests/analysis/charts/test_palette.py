from __future__ import annotations

from itertools import pairwise

import pytest

from analysis.charts import palette


def test_contrast_matches_the_published_threshold_grey():
    # #767676 on white is the lightest grey that passes WCAG AA for text, 4.54 to 1 (WebAIM and W3C examples).
    assert palette.contrast("#767676", "#FFFFFF") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("paper", [palette.LIGHT_PAPER, palette.DARK_PAPER])
@pytest.mark.parametrize("hue", [*palette.HUES, palette.OTHER_HUE])
def test_every_outline_stands_out_from_the_paper(paper, hue):
    assert palette.contrast(palette.edge(hue, paper), paper) >= 3.0


def test_hues_are_the_published_ones():
    # Okabe and Ito (2008): 230,159,0; 86,180,233; 0,158,115; 240,228,66; 0,114,178; 213,94,0; 204,121,167.
    published = {
        (230, 159, 0),
        (86, 180, 233),
        (0, 158, 115),
        (240, 228, 66),
        (0, 114, 178),
        (213, 94, 0),
        (204, 121, 167),
    }

    assert {tuple(int(hue[k : k + 2], 16) for k in (1, 3, 5)) for hue in palette.HUES} == published


def test_neighbours_in_the_order_differ_in_greyscale():
    assert all(palette.contrast(one, other) > 1.2 for one, other in pairwise(palette.HUES))


def test_the_eighth_coffee_is_grey():
    assert palette.hue_number(6) == 6
    assert palette.hue_number(7) == palette.hue_number(40) == 7
