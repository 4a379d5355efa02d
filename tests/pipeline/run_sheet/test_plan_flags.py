"""What is typed after a plan's options: read strictly, refused with an example."""

from __future__ import annotations

import pytest

from pipeline.run_sheet.flags import read_cells, read_impossible, read_pair, read_range, read_sessions, read_values
from schemas.problem import ProblemError
from schemas.study import Condition


def test_ranges_values_and_conditions() -> None:
    assert read_range(" grind_steps_finer = -2 : 2 ").step is None
    assert (read_range("a=-2:2:0.5").low, read_range("a=-2:2:0.5").step) == (-2.0, 0.5)
    assert read_values(["dose_g=18", "water_temp_c=93.5"], what="setting") == {"dose_g": 18.0, "water_temp_c": 93.5}
    assert read_pair("ostrin=2.1.0", what="reference") == ("ostrin", "2.1.0")
    assert read_impossible("a>=2, b<=-1.5").conditions == (Condition("a", 2.0, None), Condition("b", None, -1.5))
    assert read_cells(["scale_id=s-1", "instrument_id=r 1"]) == {"scale_id": "s-1", "instrument_id": "r 1"}
    assert read_sessions([]) == 1
    assert read_sessions(["session=3"]) == 3


@pytest.mark.parametrize(
    ("read", "said"),
    [
        (lambda: read_range("water_temp_c"), "is no range. Write NAME=LOW:HIGH"),
        (lambda: read_range("water_temp_c=93"), "is no range"),
        (lambda: read_range("water_temp_c=90:96:1:2"), "is no range"),
        (lambda: read_range("=90:96"), "is no range"),
        (lambda: read_range("water_temp_c=ninety:96"), "'ninety' in 'water_temp_c=ninety:96' is no number"),
        (lambda: read_range("water_temp_c=90:inf"), "is no number"),
        (lambda: read_values(["dose_g"], what="setting"), "is no setting. Write NAME=VALUE"),
        (lambda: read_values(["dose_g=a lot"], what="setting"), "is no number"),
        (lambda: read_impossible("__import__('os')"), "is no condition"),
        (lambda: read_impossible("a>2"), "is no condition"),
        (lambda: read_cells(["dose_g=18"]), "'dose_g' cannot be filled in on every row"),
        (lambda: read_sessions(["day=2"]), "not by day"),
        (lambda: read_sessions(["session=1.5"]), "1.5 is no number of sessions"),
        (lambda: read_sessions(["session=0"]), "0 is no number of sessions"),
    ],
)
def test_what_cannot_be_read_is_refused_plainly(read, said: str) -> None:
    with pytest.raises(ProblemError) as refused:
        read()

    assert said in str(refused.value)
