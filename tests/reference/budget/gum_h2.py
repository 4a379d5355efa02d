"""Work GUM H.2 by its other way (approach 2): R, X and Z from each set of observations, then their scatter."""

import json
import math
import statistics
from pathlib import Path


def main() -> None:
    data = json.loads(Path(__file__).with_name("gum_h2.json").read_text())
    sets = list(zip(data["volts"], data["milliamperes"], data["radians"], strict=True))
    results = {
        "R": [1000 * volts / ma * math.cos(phase) for volts, ma, phase in sets],
        "X": [1000 * volts / ma * math.sin(phase) for volts, ma, phase in sets],
        "Z": [1000 * volts / ma for volts, ma, _ in sets],
    }
    for name, values in results.items():
        print(name, round(statistics.mean(values), 3), round(statistics.stdev(values) / math.sqrt(len(values)), 4))
    for one, two in (("R", "X"), ("R", "Z"), ("X", "Z")):
        print(one, two, round(statistics.correlation(results[one], results[two]), 3))


if __name__ == "__main__":
    main()
