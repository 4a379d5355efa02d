"""How well a panel judges: each assessor against the others and against itself, and what the panel tells apart."""
