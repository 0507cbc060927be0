"""Steps that bring a book of any age to the tables of today; run on opening."""
