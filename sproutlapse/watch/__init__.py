"""A folder watched as it grows: which photos are whole, what is news, and how it reaches a person."""
