"""Tables, charts and the page for people."""
