"""What to brew next: designs, their order, what they will be able to tell, and how many brews that takes."""
