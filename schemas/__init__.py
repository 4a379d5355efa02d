"""What the tables are: columns, contracts, named rules and settings. Nothing here reads or computes."""
