"""A figure that the filter hides by method and by instruments."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.publish.markup import escaped, figure


def figure_of(
    chart_id: str, title: str, caption: str = "", *, method: str = "", instruments: Sequence[str] = ()
) -> str:
    """The place of one chart about a method, or one or two instruments; nameless instruments carry no name.

    >>> figure_of("a", "A", instruments=["lens-1"]).split(">")[0]
    '<figure data-instrument="lens-1"'
    """
    named = [name for name in instruments if name]
    carried = "".join(
        f' data-{attribute}="{escaped(name)}"' for attribute, name in zip(("instrument", "second"), named, strict=False)
    )
    return figure(chart_id, title, caption, method=method).replace("<figure", f"<figure{carried}", 1)
