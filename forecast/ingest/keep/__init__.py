"""What is kept in the database, and since when it was known."""
