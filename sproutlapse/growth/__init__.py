"""The table over time: pure functions on pandas tables, no pictures and no files."""
