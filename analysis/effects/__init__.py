"""What moved the extraction: models, their small-sample inference, their words."""
