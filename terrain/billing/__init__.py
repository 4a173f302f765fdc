"""Pay rules, bids, statements and their register."""
