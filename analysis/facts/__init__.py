"""What is true of each brew: masses, strength, yield, uncertainty, flags."""
