"""One lift, composed from facts and calculation into check rows."""
