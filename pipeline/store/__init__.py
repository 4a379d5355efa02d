"""Keeps everything: immutable Parquet files, originals by hash, one manifest per commit."""
