"""What is printed of an order: plain values from the ledger for the label designs. Nothing here draws."""
