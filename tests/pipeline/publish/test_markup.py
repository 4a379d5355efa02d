from __future__ import annotations

import json

import pytest

from pipeline.publish.embed import content_hash, policy, script_json
from pipeline.publish.markup import MOST_ROWS, Head, bullets, escaped, paragraph, table

PAYLOADS = ("</script><script>x()</script>", "<!-- <script>", "a & b", "\"'><img src=x onerror=x()>", "\u2028")


@pytest.mark.parametrize("text", PAYLOADS)
def test_json_in_a_script_element_reads_back_and_holds_no_markup(text):
    written = script_json({"name": text})

    assert json.loads(written) == {"name": text}
    assert not set("<>&\u2028") & set(written)


def test_json_refuses_what_is_no_json():
    with pytest.raises(ValueError, match="JSON"):
        script_json(float("nan"))


@pytest.mark.parametrize("text", PAYLOADS)
def test_texts_stay_texts(text):
    for html in (escaped(text), paragraph(text), bullets([text]), table([Head("h")], [(text,)], caption=text)):
        assert "<img" not in html
        assert "<script" not in html
        assert "<!--" not in html
        assert "onerror" not in html or "&lt;img" in html


def test_a_number_stays_with_its_unit_in_a_table_too():
    assert "<td>scatter (49\u00a0%)</td>" in table([Head("h")], [("scatter (49 %)",)], caption="c")


def test_hash_is_the_one_that_the_policy_standard_prints():
    # CSP level 3, section 8.4: alert('Hello, world.'); has this SHA-256.
    assert content_hash("alert('Hello, world.');") == "'sha256-qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng='"


def test_policy_allows_nothing_but_the_hashed():
    text = policy(scripts=["a", "b"], styles=["c"])

    assert text.startswith("default-src 'none'; script-src 'sha256-")
    assert "unsafe" not in text
    assert "http" not in text
    assert text.count("sha256-") == 3


def test_a_long_table_says_where_the_rest_is():
    rows = [(k,) for k in range(MOST_ROWS + 7)]

    html = table([Head("n", numeric=True)], rows, caption="numbers", rest="`brewtrials facts` lists all.")

    assert html.count("<tr>") == MOST_ROWS + 1
    assert "The first 500 of 507 rows. <code>brewtrials facts</code> lists all." in html
