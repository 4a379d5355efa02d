"""Opens what labs hand in and returns rows of text; knows nothing of coffee."""
