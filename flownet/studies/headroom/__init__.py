"""How far one input can go before the first limit breaks."""
