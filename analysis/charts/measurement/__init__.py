"""Charts of how good the numbers are, and the marks and words that they are made from."""
