"""Outcomes are not settings: what a slope means where a factor is a result, or is weighed on the yield's own scale."""
