"""What may be billed and what was: tax, numbers, invoices, receivables, periods."""
