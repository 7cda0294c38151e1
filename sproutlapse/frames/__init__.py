"""The interval photos: found, dated, audited and decoded."""
