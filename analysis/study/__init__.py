"""A declared study applied to brews: which rows it rests on, what was planned, what was added."""
