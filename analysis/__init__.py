"""What follows from the tables: pure functions over frames and arrays. No files, no clock, no printing."""
