"""Taste: how cups are served, what a panel says of them, and how far it can be trusted."""
