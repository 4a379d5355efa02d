"""The page that answers what moved extraction."""
