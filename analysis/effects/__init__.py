"""What moved a quantity, by how much and how surely: regressions on brew facts, in a table and in words."""
