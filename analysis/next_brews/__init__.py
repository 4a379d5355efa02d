"""What to brew next and why, or what stands in the way of saying so."""
