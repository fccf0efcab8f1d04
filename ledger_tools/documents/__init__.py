"""What goes on paper: invoices, the quarter, the year."""
