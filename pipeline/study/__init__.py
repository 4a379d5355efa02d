"""Studies declared in `study.toml`: read, kept as evidence, applied, reported."""
