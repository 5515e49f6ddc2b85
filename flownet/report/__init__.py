"""Results on paper and screen: text, JSON, drawings; sees results only."""
