"""What moves data: files, the store, the database, published pages and the command line."""
