"""From the folded case to the rows that leave."""
