"""What a person reads: text for a terminal, a card for a small screen, pages."""
