"""Difference tests: whether palates tell two brews apart, and which of two they pick."""
