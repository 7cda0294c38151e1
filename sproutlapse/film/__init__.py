"""The growth film, made from the frames and what the measuring knows of them."""
