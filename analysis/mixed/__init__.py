"""Linear models whose rows share coffees, sessions and operators: any number of variance components, by REML."""
