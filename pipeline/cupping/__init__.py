"""Blind sessions: planned, their codes and orders drawn, score sheets and the key written."""
