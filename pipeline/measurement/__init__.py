"""What the store holds for `analysis.measurement`, and the reports made of its answers."""
