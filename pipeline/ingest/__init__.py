"""Takes files in: sheets to rows, rows to tables, tables to one commit."""
