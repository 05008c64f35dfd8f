"""What a found truck or car is worth, and what to do about it, from a shop's own table of comparable sales."""
