"""What is asked of a panel: which sessions and attributes, and what counts as one product."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from analysis.known_names import check_known

ProductKind = Literal["brew", "recipe", "coffee"]
PRODUCT_KINDS: tuple[ProductKind, ...] = get_args(ProductKind)


@dataclass(frozen=True, slots=True)
class PanelRequest:
    """Empty `sessions` and `attributes` mean all of them; `product` None means: as the cups were served."""

    sessions: tuple[str, ...] = ()
    attributes: tuple[str, ...] = ()
    product: ProductKind | None = None

    def __post_init__(self) -> None:
        if self.product is not None:
            check_known("kind of product", self.product, PRODUCT_KINDS)
