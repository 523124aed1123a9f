"""What a job costs, and who pays: lines, shares, tax and totals. Pure; Decimal only."""
