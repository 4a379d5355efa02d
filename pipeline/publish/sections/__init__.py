"""The sections of the page, in the order they are read."""
