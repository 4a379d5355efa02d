"""Channeling: its risk, what channeled brews yielded, and which brews deserve a second look."""
