"""The gate's checks as JUnit XML, the format that continuous-integration servers show."""

from __future__ import annotations

import re
from xml.etree import ElementTree

from pipeline.gate import GateReport

NOT_IN_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""Characters that XML 1.0 cannot hold (production 2, Char)."""


def junit_xml(report: GateReport) -> bytes:
    """One suite, one case per check; a failed check is a failure, one that was not asked for is skipped."""
    results = [check.result for check in report.checks]
    counts = {
        "tests": str(len(results)),
        "failures": str(results.count("fail")),
        "errors": "0",
        "skipped": str(results.count("not asked")),
        "time": "0",
    }
    root = ElementTree.Element("testsuites", counts)
    suite = ElementTree.SubElement(root, "testsuite", {"name": "brewtrials gate", **counts})
    for check in report.checks:
        case = ElementTree.SubElement(
            suite, "testcase", {"classname": "brewtrials.gate", "name": check.name, "time": "0"}
        )
        sentence = NOT_IN_XML.sub("?", check.sentence)
        if check.result == "fail":
            ElementTree.SubElement(case, "failure", {"message": sentence, "type": "limit"}).text = sentence
        elif check.result == "not asked":
            ElementTree.SubElement(case, "skipped", {"message": sentence})
        else:
            ElementTree.SubElement(case, "system-out").text = sentence
    ElementTree.indent(root)
    text: str = ElementTree.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'.encode()
