"""What other programs make of our workbooks: worked out, held to the standard, saved and read."""
