"""What a number of the lab is worth: budgets, intervals, differences, and the instruments behind them."""
