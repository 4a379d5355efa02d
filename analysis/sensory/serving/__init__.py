"""How cups are put before palates: in which order, under which codes, how many, and with how much caffeine."""
