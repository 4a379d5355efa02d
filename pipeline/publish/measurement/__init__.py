"""The page that answers how good the numbers are."""
