"""Charts of what moves extraction."""
