"""The first photo of a season judged on its own: will the fortnight be worth it, and what to mend before it begins."""
