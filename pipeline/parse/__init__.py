"""Turns rows of text into typed rows, or into reasons why not."""
