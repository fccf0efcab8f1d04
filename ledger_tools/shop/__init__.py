"""The whole shop book as typed values, what follows from it, and the plan of what to write."""
