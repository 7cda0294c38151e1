"""Which did better: a comparison in words, tables and charts, sheets to show others, the plan of a fair sowing."""
