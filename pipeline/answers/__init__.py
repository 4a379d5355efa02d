"""Answers of the analyses as words, rows and objects, as every command hands them over."""
